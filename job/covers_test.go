package job

import (
	"slices"
	"testing"

	"halforder/engine"
	"halforder/reason/fault"
)

// Under a plenum over one bank the way stays open from the first thing got at until the
// car is driven or proven. Common practice, no source.
func TestCoverStaysOffUntilTheCarIsPutTogether(t *testing.T) {
	cat := catalogue(t)
	o := opened(t)
	o.Engine, o.Hard = layout(t, "v6-142536"), []engine.Cylinder{1, 2, 3}
	spark := func(at engine.Cylinder) *Entered {
		return &Entered{Check: "spark", Regime: fault.Idle, Results: results("strong", at)}
	}
	for _, x := range []struct {
		name   string
		bodies []Body
		open   []engine.Cylinder
	}{
		{"on arrival", nil, nil},
		{"at the easy bank", []Body{spark(4)}, nil},
		{"under the cover", []Body{spark(2)}, []engine.Cylinder{1, 2, 3}},
		{"a swap", []Body{swap("coil", 5, 1)}, []engine.Cylinder{1, 2, 3}},
		{"no need to get at anything", []Body{&Entered{Check: "counters", Regime: fault.Idle, Results: results("zero", 1, 2, 3)}}, nil},
		{"driven", []Body{spark(2), &Entered{Check: "counters", Regime: fault.Loaded, Results: results("zero", 1)}}, nil},
		{"renewed", []Body{&Repaired{Part: "coil", Cylinder: 3, NewPart: "coil G"}}, []engine.Cylinder{1, 2, 3}},
		{"proven", []Body{&Repaired{Part: "coil", Cylinder: 3, NewPart: "coil G"}, &Proved{WatchedS: 60, Misses: 3, Regime: fault.Idle}}, nil},
	} {
		events := []Event{{Seq: 1, At: moment, Body: o}}
		for i, b := range x.bodies {
			events = append(events, Event{Seq: int64(i) + 2, At: moment, Body: b})
		}
		c, err := Fold(1, events)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.wayOpen(cat); !slices.Equal(got, x.open) && len(got)+len(x.open) > 0 {
			t.Errorf("%s: open at %v, want %v", x.name, got, x.open)
		}
	}
}

// With the cover off the next check under it is priced without taking it off: minutes of
// the catalogue, 7 to 25 with it off and 80 to 110 with it on (judgement).
func TestNextPricesAnOpenWay(t *testing.T) {
	cat := catalogue(t)
	o := opened(t)
	o.Access, o.Complaint = fault.Hard, fault.DeadOne
	minutes := func(bodies ...Body) float64 {
		events := []Event{{Seq: 1, At: moment, Body: o}}
		for i, b := range bodies {
			events = append(events, Event{Seq: int64(i) + 2, At: moment, Body: b})
		}
		c, err := Fold(1, events)
		if err != nil {
			t.Fatal(err)
		}
		b, err := c.Belief(cat)
		if err != nil {
			t.Fatal(err)
		}
		steps, err := c.Next(b, 0, 100)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range steps {
			if k, err := cat.Check(s.Check); err == nil && k.Reach || s.Repair == "coil" {
				return s.Minutes
			}
		}
		t.Fatal("nothing under the cover is among the steps")
		return 0
	}
	named, dark := &Coded{Codes: []string{"P0303"}}, &Entered{Check: "spark", Regime: fault.Idle, Results: results("none", 3)}
	if open := minutes(named, dark); open > 30 {
		t.Errorf("with the cover off: %.0f min", open)
	}
	driven := &Entered{Check: "brake-tap", Regime: fault.Loaded, Results: []Result{{Outcome: "stays"}}}
	if closed := minutes(named, dark, driven); closed < 60 {
		t.Errorf("with the cover on again: %.0f min", closed)
	}
}
