package belief_test

import (
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Sixteen cylinders, pairs of faults, a recording that sees all of them.
func TestSixteenCylinders(t *testing.T) {
	car := belief.Car{Layout: layout(t, "1-14-9-4-7-12-15-6-13-8-3-16-11-2-5-10"), Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.DeadOne}
	b := build(t, car, append(cutsWithDead(11, 16), belief.Evidence{ID: "recording", Regime: fault.Idle, Finding: oneDead(16, true)}))
	states := b.Cylinders(nil, fault.Idle)
	for _, s := range states {
		if named := s.Cylinder == 11; named != (s.Fault > 0.9) {
			t.Errorf("cylinder %d has a fault with %.3f; only 11 dropped nothing when cut", s.Cylinder, s.Fault)
		}
	}
	if len(states) != 16 || b.Suspects()[0].Site.Cylinders[0] != engine.Cylinder(11) {
		t.Errorf("%d cylinders, led by %v", len(states), b.Suspects()[0])
	}
}
