package plan_test

import (
	"fmt"
	"testing"
	"time"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

func catalogue(t testing.TB) *fault.Catalogue {
	t.Helper()
	c, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func car(t testing.TB, layout string) belief.Car {
	t.Helper()
	l, err := engine.Parse(layout)
	if err != nil {
		t.Fatal(err)
	}
	return belief.Car{Layout: l, Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}
}

func build(t testing.TB, c belief.Car, ev ...belief.Evidence) *belief.Belief {
	t.Helper()
	b, err := belief.New(catalogue(t), c, ev)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func cuts(dead engine.Cylinder, n int) []belief.Evidence {
	var out []belief.Evidence
	for c := range n {
		outcome := "normal"
		if engine.Cylinder(c+1) == dead {
			outcome = "none"
		}
		out = append(out, belief.Evidence{ID: fmt.Sprintf("cut %d", c+1), Regime: fault.Idle, Miss: belief.Present,
			Reading: &belief.Reading{Check: "cut", Cylinders: []engine.Cylinder{engine.Cylinder(c + 1)}, Outcome: outcome}})
	}
	return out
}

func next(t testing.TB, b *belief.Belief, o plan.Options) []plan.Suggestion {
	t.Helper()
	start := time.Now()
	s, err := plan.Next(b, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("took %v", time.Since(start))
	for _, x := range s {
		t.Logf("%-45s cost %5.0f expected %5.0f bits %.2f\n      %s", x.Title, x.Cost, x.Expected, x.Bits, x.Why)
	}
	return s
}

func TestWorkedJob(t *testing.T) {
	c := car(t, "i6")
	next(t, build(t, c), plan.Options{Miss: belief.Present})
	next(t, build(t, c, cuts(3, 6)...), plan.Options{Miss: belief.Present})
	ev := append(cuts(3, 6), belief.Evidence{ID: "swap", Regime: fault.Idle, Miss: belief.Present,
		Swap: &belief.Swap{Kind: fault.Coil, A: 3, B: 5, Outcome: belief.Follows, Before: 60, After: 60}})
	b := build(t, c, ev...)
	after, err := b.Car().Seating.Swapped(fault.Coil, 3, 5)
	if err != nil {
		t.Fatal(err)
	}
	next(t, b, plan.Options{Miss: belief.Present, Seating: after})
	ev[6].Swap.Outcome = belief.Stays
	next(t, build(t, c, ev...), plan.Options{Miss: belief.Present, Seating: after})
	next(t, build(t, car(t, "v12")), plan.Options{Miss: belief.Present})
}
