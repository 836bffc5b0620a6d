package plan

import (
	"math"
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// A check that leaves the belief in the leading part as it is takes no doubt off
// it: it confirms nothing, however cheap. What counts as that is our own bound.
func TestWhatTellsNothingConfirmsNothing(t *testing.T) {
	cat, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	i6, err := engine.Parse("i6")
	if err != nil {
		t.Fatal(err)
	}
	read := func(check, outcome string, at ...engine.Cylinder) belief.Evidence {
		return belief.Evidence{Regime: fault.Idle, Miss: belief.Present, Reading: &belief.Reading{Check: check, Cylinders: at, Outcome: outcome}}
	}
	b, err := belief.New(cat, belief.Car{Layout: i6, Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}, []belief.Evidence{
		read("counters", "zero", 1, 3, 4, 5, 6), read("counters", "many", 2), read("cut", "none", 2), read("ramp", "none", 2), read("feed-drop", "ok", 2)})
	if err != nil {
		t.Fatal(err)
	}
	pl, err := newPlanner(b, Options{Miss: belief.Present})
	if err != nil {
		t.Fatal(err)
	}
	before, _ := pl.shares(pl.weights)
	unit := byShare(before)[0]
	if before[unit] < ledShare || before[unit] >= sureShare {
		t.Fatalf("%s stands at %.3f, want it to lead and not to be named", pl.unitName(unit), before[unit])
	}
	idle := 0
	for i := range pl.p.checks {
		moved := 0.0
		pl.afterEach(i, func(mass float64, by []float64) { moved = max(moved, math.Abs(by[unit]/mass-before[unit])) })
		if moved > 0.02 {
			continue
		}
		idle++
		if doubt := pl.doubtAfter(i, unit); doubt < 0.9*(1-before[unit]) {
			t.Errorf("%s %v moves the belief by %.3f at most and takes the doubt from %.3f to %.3f", pl.asked[i].check.Code, pl.asked[i].q.Cylinders, moved, 1-before[unit], doubt)
		}
	}
	if idle == 0 {
		t.Fatal("every check tells something: the test shows nothing")
	}
}
