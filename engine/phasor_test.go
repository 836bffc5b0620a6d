package engine_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"halforder/engine"

	"pgregory.net/rapid"
)

// The tables below are the exact phasors of evenly spaced equal pulses, derived
// from X_h = Σ_k w_k·exp(−i2πhk/N). A test of Layout.Phasor against closed forms:
// |X_h| = 1 for one dead cylinder, 2|cos(πhm/N)| for two dead m firings apart.

// phaseTolerance is rounding in cmplx.Phase, in degrees.
const phaseTolerance = 1e-9

// magnitudeTolerance is half a unit in the last printed digit of the tables.
const magnitudeTolerance = 5e-5

func even(t interface{ Fatal(...any) }, n int) engine.Layout {
	spec := engine.Spec{}
	for c := range n {
		spec.Order = append(spec.Order, engine.Cylinder(c+1))
	}
	l, err := engine.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func dead(n int, positions ...int) []float64 {
	w := make([]float64, n)
	for k := range w {
		w[k] = 1
	}
	for _, k := range positions {
		w[k] = 0
	}
	return w
}

func phaseDeg(x complex128) float64 {
	p := cmplx.Phase(x) * 180 / math.Pi
	return math.Mod(p+360, 360)
}

func TestPhaseAtHalfOrderNamesTheDeadPosition(t *testing.T) {
	table := map[int][]float64{
		3:  {180, 60, 300},
		4:  {180, 90, 0, 270},
		5:  {180, 108, 36, 324, 252},
		6:  {180, 120, 60, 0, 300, 240},
		8:  {180, 135, 90, 45, 0, 315, 270, 225},
		10: {180, 144, 108, 72, 36, 0, 324, 288, 252, 216},
		12: {180, 150, 120, 90, 60, 30, 0, 330, 300, 270, 240, 210},
	}
	for n, want := range table {
		l := even(t, n)
		for d, deg := range want {
			x := l.Phasor(1, dead(n, d))
			if got := phaseDeg(x); circularDistance(got, deg) > phaseTolerance {
				t.Errorf("N=%d, position %d dead: phase %.6f°, want %g°", n, d, got, deg)
			}
			if got := engine.MissingAt(n, deg); got != d {
				t.Errorf("N=%d, phase %g°: position %d, want %d", n, deg, got, d)
			}
		}
	}
}

func circularDistance(a, b float64) float64 {
	return math.Abs(math.Mod(a-b+540, 360) - 180)
}

func TestOneDeadByMakersNumber(t *testing.T) {
	// Worked examples for 1-3-4-2 and 1-5-3-6-2-4.
	for name, want := range map[string]map[engine.Cylinder]float64{
		"i4": {1: 180, 3: 90, 4: 0, 2: 270},
		"i6": {1: 180, 5: 120, 3: 60, 6: 0, 2: 300, 4: 240},
	} {
		l, err := engine.Parse(name)
		if err != nil {
			t.Fatal(err)
		}
		for c, deg := range want {
			if got := phaseDeg(l.Phasor(1, dead(l.N(), l.Position(c)))); circularDistance(got, deg) > phaseTolerance {
				t.Errorf("%s, cylinder %d dead: phase %.6f°, want %g°", name, c, got, deg)
			}
		}
	}
}

func TestTwoDeadMagnitudes(t *testing.T) {
	for _, row := range []struct {
		n, apart int
		want     []float64 // |X| at orders 0.5, 1, 1.5 …
	}{
		{3, 1, []float64{1, 1}},
		{4, 1, []float64{1.4142, 0, 1.4142}},
		{4, 2, []float64{0, 2, 0}},
		{5, 1, []float64{1.6180, 0.6180, 0.6180, 1.6180}},
		{5, 2, []float64{0.6180, 1.6180, 1.6180, 0.6180}},
		{6, 1, []float64{1.7321, 1, 0, 1, 1.7321}},
		{6, 2, []float64{1, 1, 2, 1, 1}},
		{6, 3, []float64{0, 2, 0, 2, 0}},
		{8, 1, []float64{1.8478, 1.4142, 0.7654, 0, 0.7654, 1.4142, 1.8478}},
		{8, 2, []float64{1.4142, 0, 1.4142, 2, 1.4142, 0, 1.4142}},
		{8, 3, []float64{0.7654, 1.4142, 1.8478, 0, 1.8478, 1.4142, 0.7654}},
		{8, 4, []float64{0, 2, 0, 2, 0, 2, 0}},
		{10, 1, []float64{1.9021, 1.6180, 1.1756, 0.6180, 0}},
		{12, 1, []float64{1.9319, 1.7321, 1.4142, 1, 0.5176, 0}},
	} {
		l := even(t, row.n)
		for i, want := range row.want {
			got := cmplx.Abs(l.Phasor(i+1, dead(row.n, 0, row.apart)))
			if math.Abs(got-want) > magnitudeTolerance {
				t.Errorf("N=%d, two dead %d apart, order %.1f: |X| = %.5f, want %.4f", row.n, row.apart, float64(i+1)/2, got, want)
			}
		}
	}
}

func TestOneDeadHasUnitMagnitudeOffTheFiringOrder(t *testing.T) {
	for n := 3; n <= 12; n++ {
		l := even(t, n)
		for d := range n {
			for h := 1; h <= n; h++ {
				want := 1.0
				if h == n {
					want = float64(n - 1)
				}
				if got := cmplx.Abs(l.Phasor(h, dead(n, d))); math.Abs(got-want) > 1e-9 {
					t.Errorf("N=%d, %d dead, h=%d: |X| = %g, want %g", n, d, h, got, want)
				}
			}
		}
	}
}

func TestPartialLossScalesAndKeepsPhase(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "n")
		d := rapid.IntRange(0, n-1).Draw(t, "d")
		h := rapid.IntRange(1, n-1).Draw(t, "h")
		loss := rapid.Float64Range(0.01, 1).Draw(t, "loss")
		l := even(t, n)
		w := dead(n, d)
		full := l.Phasor(h, w)
		w[d] = 1 - loss
		if got := l.Phasor(h, w); cmplx.Abs(got-full*complex(loss, 0)) > 1e-9 {
			t.Fatalf("loss %g: %v, want %g of %v", loss, got, loss, full)
		}
	})
}

func TestNaturalPhasorOfUnevenFiring(t *testing.T) {
	// A 90° V-twin fires at 0° and 270°: |X_1| = |1 + exp(−i·135°)| = 2·cos(67.5°).
	l, err := engine.Parse("vtwin-90")
	if err != nil {
		t.Fatal(err)
	}
	want := 2 * math.Cos(67.5*math.Pi/180)
	if got := cmplx.Abs(l.NaturalPhasor(1)); math.Abs(got-want) > 1e-12 {
		t.Errorf("|X_1| = %g, want %g", got, want)
	}
}

func ExampleMissingAt() {
	i4, _ := engine.Parse("1-3-4-2")
	fmt.Println("phase 90° at order 0.5: cylinder", i4.At(engine.MissingAt(i4.N(), 90)))
	// Output: phase 90° at order 0.5: cylinder 3
}
