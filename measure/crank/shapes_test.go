package crank

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"halforder/engine"
)

// sightOf is what the second firing of an engine shows on a wheel of 24 teeth.
func sightOf(t *testing.T, layout string, win window) *sight {
	t.Helper()
	l, err := engine.Parse(layout)
	if err != nil {
		t.Fatal(err)
	}
	tops, _ := topsOf(l, 84)
	angles := make([]float64, 48)
	for i := range angles {
		angles[i] = 15 * float64(i)
	}
	see, err := newSight(angles, tops, 1, win)
	if err != nil {
		t.Fatal(err)
	}
	return see
}

// The estimate by products alone is the generalised least squares one, V⁻¹x/xᵀV⁻¹x,
// of the whole covariance (published: Kay, Estimation Theory, 6.4; Woodbury).
func TestTapsAreLeastSquares(t *testing.T) {
	see := sightOf(t, "i5", windows[1])
	n := noise{jitterDeg: 0.02, spread: 0.004, stray: 0.01, road: roughness{0.002, 0.003}}
	taps, sigma, err := see.shapes.taps(n)
	if err != nil {
		t.Fatal(err)
	}
	s := see.shapes
	v := mat.NewSymDense(len(s.own), nil)
	for i := range s.own {
		v.SetSym(i, i, n.jitterDeg*n.jitterDeg)
	}
	for i, c := range s.columns {
		v.SymRankOne(v, math.Pow(n.level(s.kinds[i])/s.norms[i], 2), mat.NewVecDense(len(c), c))
	}
	var chol mat.Cholesky
	var f mat.VecDense
	own := mat.NewVecDense(len(s.own), s.own)
	if !chol.Factorize(v) {
		t.Fatal("covariance")
	}
	if err := chol.SolveVecTo(&f, own); err != nil && !isCondition(err) {
		t.Fatal(err)
	}
	gain := mat.Dot(&f, own)
	if want := 1 / math.Sqrt(gain); math.Abs(sigma/want-1) > 1e-4 {
		t.Errorf("scatter %g, want %g", sigma, want)
	}
	for i, tap := range taps {
		if want := f.AtVec(i) / gain; math.Abs(tap-want) > 1e-4*mat.Norm(&f, math.Inf(1))/gain {
			t.Errorf("tap %d is %g, want %g", i, tap, want)
		}
	}
}

// A torque that sways at 5 Hz at idle, as a car on the springs of its drive, is
// kept out better by weighers made for swaying than by those made for random
// torque.
func TestSwayingTorqueIsKeptOut(t *testing.T) {
	for _, layout := range []string{"i3", "i4", "i6"} {
		see := sightOf(t, layout, windows[1])
		var leaks []float64
		for _, road := range []roughness{{0.15, 0}, {0.02, 0.06}} {
			const full = 0.15
			w, err := see.weigherFor(noise{jitterDeg: 0.01, spread: 0.1 * full, stray: 0.5 * full, road: roughness{road.random * full, road.sway * full}})
			if err != nil {
				t.Fatal(err)
			}
			leaks = append(leaks, math.Hypot(w.seesSway(5.0/750*120, 0), w.seesSway(5.0/750*120, math.Pi/2)))
		}
		if leaks[1] > 0.5*leaks[0] {
			t.Errorf("%s: %g of a swaying torque passes, %g without minding it", layout, leaks[1], leaks[0])
		}
	}
}

// seesSway is the work a weigher takes a torque for that sways so many times a
// cycle: of the energy it brings in a radian of its swing.
func (w *weigher) seesSway(perCycle, phase float64) (sum float64) {
	k := 2 * math.Pi * perCycle / cycleDeg
	for i, tap := range w.taps {
		sum += tap * math.Sin(k*15*float64(w.from+i)+phase) / k / 2
	}
	return sum
}
