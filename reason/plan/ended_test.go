package plan_test

import (
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// Two coils are dead. One has been renewed, the other has just been found: what
// is out of the car needs nothing more, so the second coil is renewed and the job
// is not handed over.
func TestSecondFaultAfterARenewal(t *testing.T) {
	c := car(t, "i6")
	seat := build(t, c).Car().Seating
	ev := cuts(3, 6)
	ev[4].Reading.Outcome = "none"
	follow := func(a, b engine.Cylinder) {
		ev = append(ev, belief.Evidence{ID: "swap", Seating: seat, Regime: fault.Idle, Miss: belief.Present,
			Swap: &belief.Swap{Kind: fault.Coil, A: a, B: b, Outcome: belief.Follows, Before: 60, After: 60}})
		var err error
		if seat, err = seat.Swapped(fault.Coil, a, b); err != nil {
			t.Fatal(err)
		}
	}
	follow(3, 1)
	ev = append(ev, belief.Evidence{ID: "renewal", Seating: seat, Renewed: &belief.Renewed{Kind: fault.Coil, Cylinder: 1, Part: "coil X"}})
	var err error
	if seat, err = seat.Renewed(fault.Coil, 1, "coil X"); err != nil {
		t.Fatal(err)
	}
	ev = append(ev, belief.Evidence{ID: "watch", Seating: seat, Regime: fault.Idle, Watched: &belief.Watched{Seconds: 480, Came: true}})
	follow(5, 2)
	s := next(t, build(t, c, ev...), plan.Options{Seating: seat, Miss: belief.Present})[0]
	if s.Repair != "coil" || s.Part != "coil E" {
		t.Errorf("coil E is bad and still in the car: %q for %.0f, want it renewed", s.Title, s.Expected)
	}
	if s.Expected > 300 {
		t.Errorf("renewing it is expected to cost %.0f to the end, want little more than the coil itself", s.Expected)
	}
}

// Where "no misfire at all" has been mended and the trouble is still there, it is
// not mended again.
func TestMendedElsewhereIsNotMendedAgain(t *testing.T) {
	c := car(t, "i4")
	mended := []belief.Mend{{Repair: "elsewhere"}}
	for _, s := range next(t, build(t, c, cuts(0, 4)...), plan.Options{Mended: mended, Limit: 100}) {
		if s.Repair == "elsewhere" {
			t.Error("mended elsewhere already, yet proposed again")
		}
	}
}
