package belief_test

import (
	"fmt"
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func catalogue(t testing.TB) *fault.Catalogue {
	t.Helper()
	c, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func layout(t testing.TB, name string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func six(t testing.TB) belief.Car {
	return belief.Car{Layout: layout(t, "i6"), Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}
}

func cut(c engine.Cylinder, outcome string) belief.Evidence {
	return belief.Evidence{ID: fmt.Sprintf("cut %d", c), Regime: fault.Idle, Miss: belief.Present,
		Reading: &belief.Reading{Check: "cut", Cylinders: []engine.Cylinder{c}, Outcome: outcome}}
}

func cutsWithDead(dead engine.Cylinder, n int) []belief.Evidence {
	var out []belief.Evidence
	for c := range n {
		outcome := "normal"
		if engine.Cylinder(c+1) == dead {
			outcome = "none"
		}
		out = append(out, cut(engine.Cylinder(c+1), outcome))
	}
	return out
}

func swap(outcome belief.Follow) belief.Evidence {
	return belief.Evidence{ID: "swap", Regime: fault.Idle, Miss: belief.Present,
		Swap: &belief.Swap{Kind: fault.Coil, A: 3, B: 5, Outcome: outcome, Before: 60, After: 60}}
}

func build(t testing.TB, car belief.Car, ev []belief.Evidence) *belief.Belief {
	t.Helper()
	b, err := belief.New(catalogue(t), car, ev)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func show(t *testing.T, b *belief.Belief) {
	t.Logf("size %d, not a misfire %.4f, not listed %.4f", b.Size(), b.NotMisfire(), b.NotListed())
	for _, h := range b.Top(8) {
		t.Logf("  %.4f %v", h.P, h)
	}
	for _, c := range b.Cylinders(nil, fault.Idle) {
		t.Logf("  %+v", c)
	}
}

func TestWorkedJob(t *testing.T) {
	b := build(t, six(t), nil)
	show(t, b)
	ev := cutsWithDead(3, 6)
	b = build(t, six(t), ev)
	show(t, b)
	b = build(t, six(t), append(ev, swap(belief.Follows)))
	show(t, b)
	b = build(t, six(t), append(ev, swap(belief.Stays)))
	show(t, b)
	b = build(t, six(t), append(ev, swap(belief.Vanishes)))
	show(t, b)
	for _, i := range b.MovedBy(b.Suspects()[0].Fault) {
		t.Log(i)
	}
}
