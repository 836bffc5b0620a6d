package belief_test

import (
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// What was measured at a bank, named by any of its cylinders, has answered the question
// at the whole bank.
func TestBankMeasuredIsNotAskedAgain(t *testing.T) {
	l, err := engine.Parse("v6-142536")
	if err != nil {
		t.Fatal(err)
	}
	car := belief.Car{Layout: l, Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}
	for _, x := range []struct {
		at   []engine.Cylinder
		want bool
	}{{[]engine.Cylinder{1, 4}, true}, {[]engine.Cylinder{5}, true}, {[]engine.Cylinder{2}, false}} {
		b := build(t, car, []belief.Evidence{{ID: "e", Regime: fault.Idle, Reading: &belief.Reading{Check: "back-pressure", Cylinders: x.at, Outcome: "ok"}}})
		o, err := b.Outlook(nil, belief.Circumstances{Regime: fault.Idle})
		if err != nil {
			t.Fatal(err)
		}
		if got := o.Repeats(belief.Question{Check: "back-pressure", Cylinders: l.Banks()[1]}); got != x.want {
			t.Errorf("read at %v: repeats %v, want %v", x.at, got, x.want)
		}
	}
}
