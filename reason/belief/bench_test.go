package belief_test

import (
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// v12Job is a twelve with all cut-outs done and a coil swapped: the heaviest
// usual case.
func v12Job(t testing.TB) (belief.Car, []belief.Evidence) {
	car := belief.Car{Layout: layout(t, "v12"), Ignition: fault.CoilOnPlug, Injection: fault.Direct, Complaint: fault.Rough}
	ev := cutsWithDead(5, 12)
	ev = append(ev, belief.Evidence{ID: "swap", Regime: fault.Idle, Miss: belief.Present,
		Swap: &belief.Swap{Kind: fault.Coil, A: 5, B: 2, Outcome: belief.Stays, Before: 60, After: 60}})
	return car, ev
}

// BenchmarkV12NewFinding is the time from a new finding to the posterior.
func BenchmarkV12NewFinding(b *testing.B) {
	car, ev := v12Job(b)
	before := build(b, car, ev)
	e := belief.Evidence{ID: "plug", Reading: &belief.Reading{Check: "plug-look", Cylinders: []engine.Cylinder{5}, Outcome: "wet"}}
	b.ReportMetric(float64(before.Size()), "hypotheses")
	for b.Loop() {
		if _, err := before.With(e); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkV12FromScratch is the time for the whole job at once.
func BenchmarkV12FromScratch(b *testing.B) {
	car, ev := v12Job(b)
	for b.Loop() {
		build(b, car, ev)
	}
}
