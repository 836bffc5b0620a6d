package engine_test

import (
	"math"
	"testing"

	"halforder/engine"
)

func TestUnits(t *testing.T) {
	// Derived: at 750 rpm a cycle takes 160 ms, order 0.5 is 6.25 Hz, a six fires every 26.7 ms.
	idle := engine.RPM(750)
	if got := idle.CycleHz(); got != 6.25 {
		t.Errorf("cycle rate %g Hz, want 6.25", got)
	}
	if got := idle.OrderHz(0.5); got != 6.25 {
		t.Errorf("order 0.5 at %g Hz, want 6.25", got)
	}
	if got := engine.CrankDeg(120).Seconds(idle); math.Abs(got-0.0266667) > 1e-6 {
		t.Errorf("120° take %g s, want 0.0267", got)
	}
	if got := engine.FromCycleHz(6.25); got != idle {
		t.Errorf("6.25 cycles a second are %g rpm, want 750", float64(got))
	}
	for _, a := range []engine.CrankDeg{-1e-17, -720, 720, 1440.5, -0.5} {
		if w := a.WrapCycle(); w < 0 || w >= engine.CycleDeg {
			t.Errorf("WrapCycle(%g) = %g", float64(a), float64(w))
		}
	}
}

func TestPlaces(t *testing.T) {
	for want, set := range map[string][]engine.Cylinder{"": nil, "cylinder 3": {3}, "cylinders 2 and 3": {2, 3}, "cylinders 1, 2 and 12": {1, 2, 12}} {
		if got := engine.Places(set); got != want {
			t.Errorf("%v: %q, want %q", set, got, want)
		}
	}
}
