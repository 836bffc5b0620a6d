package crank

import (
	"math"
	"sync"
)

// A cylinder in the model of cranking: a polytropic spring (n = 1.3, published:
// Heywood 9.2) of ratio 10 on a rod of 3.3 crank radii between valves that shut
// and open shutDeg from its compression top dead centre, the air's pressure
// behind the piston. It may leak through a hole, at the speed of sound while
// its pressure is above twice the air's and in proportion below, or draw in too
// little.
const (
	polytropic   = 1.3
	springRatio  = 10.0
	springRod    = 3.3
	shutDeg      = 129.0 // a multiple of crankStep
	drawDeg      = 360.0 // before compression top dead centre drawing in begins
	leakSubsteps = 4
)

// squeezeStep and mostSqueeze are the step between the peak pressures of
// squeezes, against a tight cylinder's, and the highest.
const squeezeStep, mostSqueeze = 0.02, 1.5

// squeezeTable is what a cylinder takes from the crank by its peak pressure,
// above the air's, against a tight one's in steps of squeezeStep, and by steps
// of crankStep from drawDeg before top dead centre, per hundred degrees. A
// tight one takes 1 in all until top dead centre, and gives it back.
type squeezeTable struct{ leaking, starved [][]float64 }

var squeezes = sync.OnceValue(func() squeezeTable {
	tight, high := squeezed(spring{fill: 1})
	whole := 0.0
	for _, e := range tight[:int(drawDeg/crankStep)] {
		whole += e
	}
	var t squeezeTable
	for i := range int(mostSqueeze/squeezeStep) + 1 {
		peak := 1 + squeezeStep*float64(i)*(high-1)
		leaking, _ := squeezed(spring{fill: 1, hole: holeFor(peak)})
		starved, _ := squeezed(spring{fill: peak / high})
		for j := range leaking {
			leaking[j] *= 100 / (crankStep * whole)
			starved[j] *= 100 / (crankStep * whole)
		}
		t.leaking, t.starved = append(t.leaking, leaking), append(t.starved, starved)
	}
	return t
})

// holeFor is the hole of a cylinder that reaches a peak pressure; below zero it
// is tighter than the others.
func holeFor(peak float64) float64 {
	low, high := -0.1, 4.0
	for range 40 {
		mid := (low + high) / 2
		if _, p := squeezed(spring{fill: 1, hole: mid}); p > peak {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// spring is a cylinder that has drawn in the air's pressure times fill and leaks
// the share hole of its gas per degree when its volume is largest and its
// pressure twice the air's.
type spring struct{ fill, hole float64 }

// squeezed is the energy a cylinder takes from the crank by steps of crankStep,
// and the highest pressure it reaches, both in the air's.
func squeezed(s spring) (taken []float64, peak float64) {
	taken = make([]float64, int((drawDeg+shutDeg)/crankStep))
	const step = crankStep / leakSubsteps
	v, p := springVolume(-drawDeg), s.fill
	shut := springVolume(-shutDeg)
	for i := range leakSubsteps * len(taken) {
		x := -drawDeg + step*float64(i+1)
		next := springVolume(x)
		before := p
		if x > -shutDeg {
			speed := math.Pow(shut/v, (polytropic-1)/2) // of sound, against the air's
			lost := s.hole * step * speed * min(p-1, 1) / v
			p = leaked(p*math.Pow(v/next, polytropic), lost)
		}
		taken[i/leakSubsteps] += ((before+p)/2 - 1) * (v - next)
		peak, v = max(peak, p), next
	}
	return taken, peak
}

// leaked is a pressure after a share of the gas was lost; it does not pass the
// air's.
func leaked(p, lost float64) float64 {
	after := p * math.Exp(-polytropic*lost)
	if p > 1 {
		return max(after, 1)
	}
	return min(after, 1)
}

// springVolume is the volume of a cylinder x degrees after top dead centre,
// against its largest.
func springVolume(x float64) float64 {
	sin, cos := math.Sincos(x * math.Pi / 180)
	travel := (1 - cos + springRod - math.Sqrt(springRod*springRod-sin*sin)) / 2
	return (1 + (springRatio-1)*travel) / springRatio
}
