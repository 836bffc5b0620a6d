package main

import (
	"testing"
)

// A short run of what the command does at length: the plan must beat the habits
// and accuse hardly anybody wrongly. Seed 7.
func TestPlanBeatsHabits(t *testing.T) {
	records, err := run(setup{jobs: 5, seed: 7, depth: 1, policies: 3})
	if err != nil {
		t.Fatal(err)
	}
	extra := func(o outcome) float64 { return o.extra }
	base, _ := records[0].mean(extra, "")
	for _, r := range records[1:3] {
		if m, _ := r.mean(extra, ""); base > 0.8*m {
			t.Errorf("above the needed repairs the plan costs %.0f, %q %.0f: at most four fifths wanted even on so few jobs", base, r.name, m)
		}
	}
	if records[0].accused > 1 {
		t.Errorf("the plan accused a good part in %d of 5 jobs", records[0].accused)
	}
}
