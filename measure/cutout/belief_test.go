package cutout_test

import (
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// A cut-out result enters the belief with its strength: a clear test moves it
// far, a noisy one little, one that shows nothing not at all.
func TestFindingMovesTheBeliefByItsStrength(t *testing.T) {
	cat, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	l := layout(t, "i4")
	dead := func(like *finding.Likelihood) float64 {
		var evidence []belief.Evidence
		if like != nil {
			evidence = append(evidence, belief.Evidence{ID: "cut-out", Regime: fault.Idle, Finding: like})
		}
		b, err := belief.New(cat, belief.Car{Layout: l, Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}, evidence)
		if err != nil {
			t.Fatal(err)
		}
		return b.Cylinders(nil, fault.Idle)[2].Dead
	}
	measured := func(share float64, order ...engine.Cylinder) *finding.Likelihood {
		x := test{car: car(t, "i4", map[engine.Cylinder]float64{3: share}), rate: 10, seed: 3, marked: true, order: order}
		return x.analyse(t).Finding().Likelihood
	}
	before, clear := dead(nil), dead(measured(0, abba(l)...))
	if before > 0.3 || clear < 0.7 { // the rest is "weak": a test tells little work from none less well than from all
		t.Errorf("cylinder 3 dead: %.3f before and %.3f after a clear test, want far apart", before, clear)
	}
	if never := dead(measured(0, 1, 2, 4)); never < before*0.5 || never > 0.9 {
		t.Errorf("cylinder 3 dead: %.3f after a test that never cut it, %.3f before", never, before)
	}
	if good := dead(measured(1, abba(l)...)); good > before/2 {
		t.Errorf("cylinder 3 dead: %.3f after a test in which it worked, %.3f before", good, before)
	}
}
