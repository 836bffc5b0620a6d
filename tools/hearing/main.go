// Hearing measures how well sound and motion are judged: practice engines of
// several layouts in several states and places, one cut each for the names, and
// every real recording in the shared folder, whole and in pieces. It prints
// confusion tables with 95 % intervals (Wilson) and fails on nothing: read it.
//
//	go run ./tools/hearing -seeds 5 -shared ../shared/data
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/plan"
)

func main() {
	seeds := flag.Int("seeds", 2, "practice engines of each kind")
	first := flag.Int("first", 0, "leave out so many engines of each kind, to measure on others than before")
	shared := flag.String("shared", "../shared/data", "folder of real recordings; left out where it is missing")
	only := flag.String("only", "", "one part: states, names, motion, real, spoilt, misses, plain or speed; all when empty")
	layouts := flag.String("engines", "i3,i4,i5,i6,v6-odd,v8-18436572", "layouts, by comma")
	flag.Parse()
	if err := run(seedSpan{*first, *seeds}, *shared, *layouts, *only); err != nil {
		fmt.Fprintln(os.Stderr, "hearing:", err)
		os.Exit(1)
	}
}

func run(seeds seedSpan, shared, layouts, only string) error {
	verdicts, names, speeds := newTable("verdicts"), newTable("names after one cut"), newTable("speed within 1 % from 1 s")
	share, covered := newTable("share of cycles that miss, within 5 points"), newTable("truth within its interval, 90 %")
	felt, spoilt := newTable("verdicts from motion"), newTable("real idle, 10 s, spoilt")
	parts := []struct {
		name  string
		sweep func() error
	}{
		{"states", func() error { return sweepPractice(seeds, layouts, verdicts) }},
		{"names", func() error { return sweepNames(seeds, layouts, names) }},
		{"motion", func() error {
			return errors.Join(sweepMotion(seeds, layouts, felt, names), sweepPlainMotion(seeds, layouts, felt))
		}},
		{"real", func() error { return sweepShared(shared, verdicts) }},
		{"spoilt", func() error { return sweepSpoilt(shared, spoilt) }},
		{"misses", func() error { return sweepMisses(seeds, layouts, share, covered) }},
		{"plain", func() error { return sweepPlain(seeds, layouts, verdicts, share, covered) }},
		{"speed", func() error {
			return errors.Join(sweepSpeeds(seeds, layouts, speeds), sweepPlainSpeeds(seeds, layouts, speeds))
		}},
	}
	for _, p := range parts {
		if only != "" && only != p.name {
			continue
		}
		if err := p.sweep(); err != nil {
			return err
		}
	}
	for _, t := range []*table{verdicts, felt, names, spoilt, speeds, share, covered} {
		t.print()
	}
	return nil
}

// table counts right, open and wrong answers by row.
type table struct {
	title string
	rows  []string
	cells map[string]*cell
}

type cell struct{ right, open, wrong int }

func newTable(title string) *table { return &table{title: title, cells: map[string]*cell{}} }

func (t *table) at(row string) *cell {
	if t.cells[row] == nil {
		t.cells[row] = &cell{}
		t.rows = append(t.rows, row)
	}
	return t.cells[row]
}

// judge counts a verdict; an error counts as open.
func (c *cell) judge(f finding.Finding, err error, want finding.Verdict) {
	switch {
	case err != nil || f.Verdict == finding.CannotTell:
		c.open++
	case f.Verdict == want:
		c.right++
	default:
		c.wrong++
	}
}

func (t *table) print() {
	if len(t.rows) == 0 {
		return
	}
	w := tabwriter.NewWriter(os.Stdout, 2, 0, 2, ' ', 0)
	fmt.Fprintf(w, "%s\tright\tcannot tell\twrong\tright, 95 %%\twrong, 95 %%\n", t.title)
	for _, row := range t.rows {
		c := t.cells[row]
		n := c.right + c.open + c.wrong
		fmt.Fprintf(w, "%s\t%d\t%d\t%d\t%s\t%s\n", row, c.right, c.open, c.wrong, interval(c.right, n), interval(c.wrong, n))
	}
	fmt.Fprintln(w)
	w.Flush()
}

// interval is Wilson's for a share, at 95 %.
func interval(x, n int) string {
	w, err := plan.Wilson(x, n, 0.95)
	if err != nil || n == 0 {
		return "–"
	}
	return fmt.Sprintf("%.0f–%.0f %%", 100*w.Low, 100*w.High)
}

// seedSpan are the engines that are swept of each kind, after the first so many.
type seedSpan struct{ first, count int }

// eachEngine goes through the layouts, by comma, and the seeds of each from 1 or
// the first that is not left out.
func eachEngine(seeds seedSpan, layouts string, do func(layout engine.Layout, seed int)) error {
	for _, name := range strings.Split(layouts, ",") {
		layout, err := engine.Parse(name)
		if err != nil {
			return err
		}
		for seed := seeds.first + 1; seed <= seeds.first+seeds.count; seed++ {
			do(layout, seed)
		}
	}
	return nil
}

// turnBy is a cylinder, another for each seed.
func turnBy(layout engine.Layout, seed int) engine.Cylinder {
	return engine.Cylinder((seed-1)%layout.N() + 1)
}
