package crank

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"halforder/engine"
)

// slowestAfterTop is how far after top dead centre the firing order of the
// crank's energy has its minimum while gas pressure rules: compression has its
// worst at top dead centre, the burn pays back from about 15° on. From the gas
// torque of a slider-crank engine; good to some 12°.
const slowestAfterTop = 12.0

// gasRules is the speed up to which the gas outweighs the pistons' inertia in
// the firing order of any layout, rpm: in an unloaded four the two are equal
// near 3000.
const gasRules = 1800

// guessTops estimates where in the cycle the firings have their top dead
// centre, modulo the firing interval, from the firing order of the slowest
// usable bin. ok is false on wheels too coarse or engines too fast.
func guessTops(c *clock, bins []bin, l engine.Layout) (zero float64, ok bool) {
	n := l.N()
	if !l.Even() && n > 1 {
		return guessUneven(c, bins, l), true
	}
	if n < 2 || c.wheel.Learn && !c.nominal || len(c.angles) < 4*n {
		return 0, false
	}
	for _, b := range bins {
		if b.rpm > gasRules || b.cycles < 2*minCycles {
			continue
		}
		late, found := harmonic(c.angles, b.late, n)
		if !found {
			continue
		}
		// lateness ∝ Re(a·e^{ikθ}); slowness is its derivative, slowest at its top.
		slow := late * complex(0, float64(n)/2)
		at := -phaseOf(slow) * cycleDeg / float64(n) / (2 * math.Pi)
		gap := cycleDeg / float64(n)
		return math.Mod(at-slowestAfterTop+2*gap, gap), true
	}
	return 0, false
}

func phaseOf(z complex128) float64 { return math.Atan2(imag(z), real(z)) }

// harmonic fits harmonics 1 to 2h of the cycle and returns the complex
// amplitude of h, so that the curve is Re(a·exp(ihθ/2)).
func harmonic(angles, y []float64, h int) (complex128, bool) {
	most := min(2*h, (len(angles)-1)/2-1)
	if most < h {
		return 0, false
	}
	a := mat.NewDense(len(angles), 2*most+1, nil)
	for i, x := range angles {
		a.Set(i, 0, 1)
		for k := 1; k <= most; k++ {
			sin, cos := math.Sincos(float64(k) * x * math.Pi / 360)
			a.Set(i, 2*k-1, cos)
			a.Set(i, 2*k, sin)
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(len(y), y)); err != nil && !isCondition(err) {
		return 0, false
	}
	return complex(x.AtVec(2*h-1), -x.AtVec(2*h)), true
}

// compressionWidth is how long a compression slows the crank, degrees.
const compressionWidth = 45.0

// guessUneven places unevenly spaced firings where the crank is slow and stays
// slow in the other turn's place too little: the half-order part of the
// slowness, which no mark error can fake, matched with a dip at each firing.
func guessUneven(c *clock, bins []bin, l engine.Layout) float64 {
	b := mainBins(bins, 1)[0]
	n := len(c.angles)
	at, slow := make([]float64, n), make([]float64, n)
	for i := range n {
		step, more := turnStep(c.angles, b.late, i)
		at[i], slow[i] = c.angles[i]+step/2, more/step
	}
	best, zero := math.Inf(-1), 0.0
	for z := 0.0; z < cycleDeg; z += 5 {
		tops, _ := topsOf(l, z)
		sum := 0.0
		for i := range n {
			sum += (slow[i] - slow[(i+n/2)%n]) * dips(at[i], tops)
		}
		if sum > best {
			best, zero = sum, z
		}
	}
	return zero
}

// dips is how much the compressions of the firings slow the crank at an angle,
// in arbitrary units.
func dips(at float64, tops []float64) float64 {
	sum := 0.0
	for _, top := range tops {
		x := math.Remainder(at-top-slowestAfterTop, cycleDeg) / compressionWidth
		sum += math.Exp(-x * x)
	}
	return sum
}
