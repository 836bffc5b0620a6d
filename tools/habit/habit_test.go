package main

import (
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// A short run of what the command does at length: the plan must beat the habits
// and accuse hardly anybody wrongly. Seed 7.
func TestPlanBeatsHabits(t *testing.T) {
	lines, err := run(setup{jobs: 6, seed: 7, depth: 1, policies: 5, only: -1})
	if err != nil {
		t.Fatal(err)
	}
	var table strings.Builder
	printTable(&table, lines)
	t.Log("\n" + table.String())
	base, _ := mean(lines, 0, extra)
	for p := 1; p <= 2; p++ {
		if m, _ := mean(lines, p, extra); base > 0.8*m {
			t.Errorf("above the needed repairs the plan costs %.0f, %q %.0f: at most four fifths wanted even on so few jobs", base, policies[p].name, m)
		}
	}
	accused := 0.0
	for _, l := range lines {
		accused += oneIf(l.Outcomes[0].Notes.Accused)
	}
	if accused > 1 {
		t.Errorf("the plan accused a good part in %.0f of %d jobs", accused, len(lines))
	}
}

// A run that was stopped goes on where it was and comes to the same.
func TestSavedRunGoesOn(t *testing.T) {
	s := setup{jobs: 2, seed: 9, depth: 1, policies: 1, only: -1, save: filepath.Join(t.TempDir(), "run.jsonl")}
	if _, err := run(s); err != nil {
		t.Fatal(err)
	}
	s.jobs = 3
	continued, err := run(s)
	if err != nil {
		t.Fatal(err)
	}
	s.save = ""
	whole, err := run(s)
	if err != nil {
		t.Fatal(err)
	}
	byJob := map[int]line{}
	for _, l := range whole {
		byJob[l.Job] = l
	}
	for _, l := range continued {
		if !reflect.DeepEqual(l, byJob[l.Job]) {
			t.Errorf("job %d: %+v when continued, %+v in one go", l.Job, l, byJob[l.Job])
		}
	}
}

// Priors that are wrong leave the truths as they are.
func TestWrongPriorsKeepTheTruth(t *testing.T) {
	right, err := drawTasks(setup{seed: 3}, 0, 20, nil)
	if err != nil {
		t.Fatal(err)
	}
	wrong, err := drawTasks(setup{seed: 3, wrong: true}, 0, 20, nil)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[int]string{}
	for _, x := range right {
		kinds[x.job] = x.kind
	}
	for _, x := range wrong {
		if kinds[x.job] != x.kind || x.distorted == 0 {
			t.Errorf("job %d: %q with the true priors, %q (set %d) with wrong ones", x.job, kinds[x.job], x.kind, x.distorted)
		}
	}
}
