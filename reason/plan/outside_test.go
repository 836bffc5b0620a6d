package plan_test

import (
	"strings"
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// quiet is an engine in which nothing shows a miss.
func quiet(l engine.Layout) []belief.Evidence {
	read := func(check, outcome string, at ...engine.Cylinder) belief.Evidence {
		return belief.Evidence{ID: check, Regime: fault.Idle, Reading: &belief.Reading{Check: check, Outcome: outcome, Cylinders: at}}
	}
	all := l.Cylinders()
	return []belief.Evidence{
		read("codes", "none", all...), read("counters", "zero", all...), read("cut", "normal", all...), read("record", "clean"),
		read("trims", "normal"), read("vacuum", "steady"), read("mist", "same"), read("plug-look", "good", all...),
		read("relative-compression", "equal", all...), read("gas", "clean"), read("feel", "uneven"), read("tailpipe", "even"),
	}
}

// Mounts are looked at before they are mended. Where nothing is found and nothing is
// left to look at the job is handed on, not a mount sold. Common practice, no source.
func TestWhatShakesIsFoundBeforeItIsMended(t *testing.T) {
	c := car(t, "i4")
	mounts := func(outcome string) []belief.Evidence {
		return append(quiet(c.Layout), belief.Evidence{ID: "mounts", Regime: fault.Idle, Reading: &belief.Reading{Check: "mounts-belt", Outcome: outcome}})
	}
	if s := next(t, build(t, c, quiet(c.Layout)...), plan.Options{})[0]; s.Check != "mounts-belt" && s.Check != "brake-tap" {
		t.Errorf("nothing found yet: %q comes first", s.Title)
	}
	if s := next(t, build(t, c, mounts("found")...), plan.Options{})[0]; s.Repair != "elsewhere" {
		t.Errorf("found: %q comes first", s.Title)
	}
	steps := next(t, build(t, c, mounts("nothing")...), plan.Options{Forbids: []string{"brake-tap"}, Limit: 100})
	for _, s := range steps {
		if s.Repair == "elsewhere" {
			t.Errorf("sold although nothing was found: %q", s.Why)
		}
		if s.Expected > 10_000 {
			t.Errorf("%q is to cost %.0f", s.Title, s.Expected)
		}
	}
	if handed := next(t, build(t, c, quiet(c.Layout)...), plan.Options{Forbids: []string{"mounts-belt", "brake-tap"}})[0]; handed.Repair != plan.HandOver || !strings.Contains(handed.Why, "no misfire at all") {
		t.Errorf("nothing to look with: %q, %s", handed.Title, handed.Why)
	}
}
