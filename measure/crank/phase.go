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
// usable bin. ok is false on wheels too coarse or engines too fast or uneven.
func guessTops(c *clock, bins []bin, l engine.Layout) (zero float64, ok bool) {
	n := l.N()
	if !l.Even() || n < 2 || c.wheel.Learn && !c.nominal || len(c.angles) < 4*n {
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
