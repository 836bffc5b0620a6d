package job

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"

	"pgregory.net/rapid"
)

func swap(part fault.PartKind, a, b engine.Cylinder) *Swapped {
	return &Swapped{Part: part, A: a, B: b}
}

func TestLedgerAfterSwaps(t *testing.T) {
	c := fold(t, swap("coil", 3, 5), swap("coil", 5, 1), swap("plug", 1, 3))
	for cylinder, want := range map[engine.Cylinder]fault.PartID{1: "coil C", 3: "coil E", 5: "coil A", 2: "coil B"} {
		if got := c.Seating.At("coil", cylinder); got != want {
			t.Errorf("cylinder %d has %s, want %s", cylinder, got, want)
		}
	}
	if got := c.Seating.At("plug", 1); got != "plug C" {
		t.Errorf("cylinder 1 has %s, want plug C", got)
	}
	if before := c.Swaps[1].Seating.At("coil", 5); before != "coil C" {
		t.Errorf("before the second swap cylinder 5 had %s, want coil C", before)
	}
}

// However parts are swapped and renewed, every place has one part, no part is
// in two places, and taking everything back gives the first seating.
func TestLedgerLaws(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		cylinder := rapid.IntRange(1, 6)
		var bodies, undo []Body
		for i := range rapid.IntRange(1, 12).Draw(rt, "moves") {
			kind := rapid.SampledFrom([]fault.PartKind{"coil", "plug", "injector"}).Draw(rt, "kind")
			a, b := engine.Cylinder(cylinder.Draw(rt, "a")), engine.Cylinder(cylinder.Draw(rt, "b"))
			if a == b {
				bodies = append(bodies, &Repaired{Part: kind, Cylinder: a, NewPart: fault.PartID(strings.Repeat("new ", i+1))})
			} else {
				bodies = append(bodies, swap(kind, a, b))
			}
		}
		c := fold(t, bodies...)
		if err := c.Seating.Check(6); err != nil {
			rt.Fatal(err)
		}
		for kind, ids := range c.Seating {
			seen := map[fault.PartID]bool{}
			for _, id := range ids {
				if seen[id] {
					rt.Fatalf("%s %s sits in two places: %v", kind, id, ids)
				}
				seen[id] = true
			}
		}
		for i := len(bodies); i > 0; i-- {
			undo = append(undo, &Undone{Seq: int64(i) + 1})
		}
		if back := fold(t, append(bodies, undo...)...); !back.Seating.Equal(fold(t).Seating) {
			rt.Fatalf("after taking everything back: %v", back.Seating)
		}
	})
}

func TestUndo(t *testing.T) {
	note := &Noted{Text: "oil in well 3"}
	if c := fold(t, note, &Undone{Seq: 2}); len(c.Notes) != 0 || c.Last != 3 || c.Active(2) {
		t.Errorf("the note is still there: %+v", c.Notes)
	}
	if c := fold(t, note, &Undone{Seq: 2}, &Undone{Seq: 3}); len(c.Notes) != 1 || !c.Active(2) {
		t.Errorf("the undo was not undone: %+v", c.Notes)
	}
	closed := fold(t, &Closed{}, &Undone{Seq: 2})
	if closed.Status != StatusOpen {
		t.Errorf("status %q after the closing was taken back", closed.Status)
	}
}

func TestMisfits(t *testing.T) {
	coil := &Repaired{Part: "coil", Cylinder: 5, NewPart: "coil G"}
	for name, c := range map[string]struct {
		bodies []Body
		want   string
	}{
		"cylinder 9 of 6":        {[]Body{&Entered{Check: "cut-out", Results: []Result{{Cylinder: 9}}}}, "cylinder 9 does not exist, this engine has 1 to 6"},
		"swap with itself":       {[]Body{swap("coil", 3, 3)}, "two different cylinders"},
		"swap at cylinder 0":     {[]Body{swap("coil", 0, 3)}, "does not exist"},
		"swap of a missing kind": {[]Body{swap("lead", 1, 3)}, "no lead"},
		"watched without a swap": {[]Body{&SwapWatched{Swap: 7, Outcome: belief.Follows}}, "no swap 7"},
		"watched twice":          {[]Body{swap("coil", 3, 5), &SwapWatched{Swap: 2}, &SwapWatched{Swap: 2}}, "undo event 3"},
		"proof before a repair":  {[]Body{&Proved{Proven: true}}, "nothing has been repaired"},
		"reading that is NaN":    {[]Body{&Entered{Check: "compression", Results: []Result{{Values: []Value{{Number: math.NaN()}}}}}}, "not a number"},
		"reading of nothing":     {[]Body{&Entered{Check: "x"}}, "no result"},
		"time that is NaN":       {[]Body{&Entered{Check: "x", Results: []Result{{}}, Minutes: math.NaN()}}, "from 0 up"},
		"money below zero":       {[]Body{&Repaired{Words: "x", Cash: -1}}, "from 0 up"},
		"part without an id":     {[]Body{&Repaired{Part: "coil", Cylinder: 5}}, "id of its own"},
		"same part twice":        {[]Body{coil, &Repaired{Part: "coil", Cylinder: 4, NewPart: "coil G"}}, "id of its own"},
		"finding, no recording":  {[]Body{&Found{SHA256: "x"}}, "not on the card"},
		"after the end":          {[]Body{&Closed{}, &Noted{Text: "late"}}, "undo the closing"},
		"closed twice":           {[]Body{&Closed{}, &Closed{}}, "closed already"},
		"opened twice":           {[]Body{opened(t)}, "open already"},
		"undo the opening":       {[]Body{&Undone{Seq: 1}}, "cannot be taken back"},
		"undo the future":        {[]Body{&Undone{Seq: 2}}, "no event 2"},
		"undo twice":             {[]Body{&Noted{Text: "x"}, &Undone{Seq: 2}, &Undone{Seq: 2}}, "already"},
		"undo under a watching":  {[]Body{swap("coil", 3, 5), &SwapWatched{Swap: 2}, &Undone{Seq: 2}}, "no swap 2"},
		"an empty note":          {[]Body{&Noted{}}, "empty"},
	} {
		if _, err := Fold(1, events(t, c.bodies...)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func TestFindingMustFitTheEngine(t *testing.T) {
	sum := strings.Repeat("a", 64)
	bad := finding.Finding{Likelihood: &finding.Likelihood{Log: map[finding.Pattern]float64{"....": 0}}}
	_, err := Fold(1, events(t, &Recorded{SHA256: sum}, &Found{SHA256: sum, Finding: bad}))
	if err == nil || !strings.Contains(err.Error(), "the engine has 6") {
		t.Errorf("a four-cylinder finding on a six: %v", err)
	}
}

func TestStatusFollowsTheWork(t *testing.T) {
	coil := &Repaired{Part: "coil", Cylinder: 5, NewPart: "coil G"}
	proof := &Proved{Proven: true, Confidence: 0.99}
	for _, c := range []struct {
		want   Status
		bodies []Body
	}{
		{StatusOpen, nil},
		{StatusRepaired, []Body{coil}},
		{StatusRepaired, []Body{coil, &Proved{Confidence: 0.2}}},
		{StatusProven, []Body{coil, proof}},
		{StatusRepaired, []Body{coil, proof, swap("plug", 1, 2)}},
		{StatusRepaired, []Body{coil, proof, &Repaired{Words: "cleaned the plug well"}}},
		{StatusClosed, []Body{coil, proof, &Closed{}}},
	} {
		if got := fold(t, c.bodies...).Status; got != c.want {
			t.Errorf("after %d events: %q, want %q", len(c.bodies)+1, got, c.want)
		}
	}
	if _, ok := fold(t, coil, proof, &Closed{}).Proven(); !ok {
		t.Error("a closed job forgot its proof")
	}
	if _, ok := fold(t, coil, proof, swap("plug", 1, 2), &Closed{}).Proven(); ok {
		t.Error("a proof outlived a later swap")
	}
}

func TestFoldingDoesNotChangeEvents(t *testing.T) {
	list := events(t, swap("coil", 3, 5), swap("coil", 5, 1))
	before := fold(t, swap("coil", 3, 5))
	after := before.Seating.Clone()
	if _, err := Fold(1, list); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(before.Seating, after) {
		t.Error("folding one card changed another")
	}
}
