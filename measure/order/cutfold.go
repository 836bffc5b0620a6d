package order

import (
	"math"
	"math/cmplx"
)

// refold cuts the frames of a cut into engine cycles along the phase that was
// followed through it, given for each frame of the film, and turns them into
// step with the cycles before.
func (v showing) refold(r reel, phases []float64, before *folded) []cycle {
	k := newLock(len(r.rows), before.harmonics)
	var out []cycle
	begins := v.cycleBegins(phases)
	for i := 1; i < len(begins); i++ {
		c := cycle{start: begins[i-1], seconds: begins[i] - begins[i-1], phasors: make([]complex64, len(r.rows)*k.harmonics)}
		c.hz = 1 / c.seconds
		for b, row := range r.rows {
			k.phasorsOf(c.phasors[b*k.harmonics:][:k.harmonics], row, c.start*r.rate-float64(r.first), c.seconds*r.rate)
		}
		k.drop(c.phasors, int(foldTop*r.rate/c.hz))
		turnBy(c.phasors, k.harmonics, before.lateness(c.phasors))
		out = append(out, c)
	}
	return out
}

// cycleBegins is when, in seconds, each cycle of the settled cut begins.
func (v showing) cycleBegins(phases []float64) []float64 {
	var out []float64
	for i := v.settled - v.from + 1; i < len(phases); i++ {
		step := wrapHalf(phases[i] - phases[i-1])
		before := phases[i-1] - math.Floor(phases[i-1])
		if step > 0 && before+step >= 1 {
			out = append(out, v.at(v.from+i)-(before+step-1)/step*v.step)
		}
	}
	return out
}

const (
	stepReach = 0.3 // of a firing: how far a cycle of a cut may be out of step
	stepSlack = 0.1 // and how far it mostly is. Judgement
)

// lateness is how late a cycle stands against the run, in cycles, by its firing
// orders: they keep their phase whichever cylinders work.
func (f *folded) lateness(phasors []complex64) float64 {
	n, cycles := f.layout.N(), float64(len(f.cycles))
	best, late := math.Inf(-1), 0.0
	for s := -alignSteps; s <= alignSteps; s++ {
		firings := stepReach * float64(s) / alignSteps
		score := -firings * firings / (stepSlack * stepSlack) / 2
		for b, p := range f.bands {
			for h := n; h <= min(shareFirings*n, f.harmonics) && p.noise[h-1] > 0; h += n {
				turned := complex128(phasors[b*f.harmonics+h-1]) * cmplx.Rect(1, 2*math.Pi*float64(h)*firings/float64(n))
				score += real(turned*cmplx.Conj(p.mean[h-1])) / (cycles*p.noise[h-1] + naturalSpread*sq(p.mean[h-1]))
			}
		}
		if score > best {
			best, late = score, firings/float64(n)
		}
	}
	return late
}

// naturalSpread is the least variance of a firing order from cycle to cycle,
// against its power.
const naturalSpread = 0.02
