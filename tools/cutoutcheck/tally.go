package main

import (
	"fmt"
	"math"
	"slices"

	"halforder/measure/cutout"
	"halforder/reason/plan"
)

// score counts cylinders.
type score struct {
	cylinders, right, open int
	good, accused          int
	bad, missed            int
}

// tally is what came out in one row.
type tally struct {
	name          string
	verbose, cuts bool
	all           score
	byCount       map[int]*score
	starts, ends  []float64 // s, found minus done
	calibration   calibration

	guidedCuts, units, onceRight int
}

func (t *tally) compare(x example, r cutout.Result) {
	if t.byCount == nil {
		t.byCount = map[int]*score{}
	}
	n := len(x.truth)
	if t.byCount[n] == nil {
		t.byCount[n] = &score{}
	}
	for i, truth := range x.truth {
		k := r.Cylinders[i]
		t.all.count(truth, k.Verdict)
		t.byCount[n].count(truth, k.Verdict)
		t.calibration.add(truth, k)
		if t.verbose && k.Verdict != cutout.VerdictOf(truth) {
			fmt.Printf("  seed %d %s cylinder %d truth %.2f: %s (%.3f %.3f %.3f) strength %.2f±%.2f\n", x.seed, r.Layout, i+1, truth, k.Verdict, k.PWorks, k.PWeak, k.PDead, k.Strength.Value, k.Strength.Sigma)
		}
	}
	t.time(x, r)
	if t.cuts {
		printCuts(x, r)
	}
}

// time compares the ends of cuts with when they were done, where the cylinder
// did something and the recording shows the end.
func (t *tally) time(x example, r cutout.Result) {
	for _, done := range x.cuts {
		var taken float64
		for _, c := range done.Cylinders {
			taken += x.truth[c-1]
		}
		if taken < 0.4 {
			continue
		}
		for _, found := range r.Cuts {
			if math.Abs(found.Start-done.Start) > 3 || found.Stalled {
				continue
			}
			if found.Seen {
				t.starts = append(t.starts, found.Start-done.Start)
			}
			if found.EndSeen {
				t.ends = append(t.ends, found.End-done.End)
			}
			break
		}
	}
}

func rightOf(r cutout.Result, truths []float64) (n int) {
	for i, truth := range truths {
		if r.Cylinders[i].Verdict == cutout.VerdictOf(truth) {
			n++
		}
	}
	return n
}

func (s *score) count(truth float64, v cutout.Verdict) {
	s.cylinders++
	want := cutout.VerdictOf(truth)
	switch {
	case v == want:
		s.right++
	case v == cutout.CannotTell:
		s.open++
	}
	if want == cutout.Works {
		s.good++
		if v == cutout.Weak || v == cutout.Dead {
			s.accused++
		}
		return
	}
	s.bad++
	if v == cutout.Works {
		s.missed++
	}
}

func printHead() {
	fmt.Printf("%-37s %5s  %-18s %6s  %-18s %-18s %-12s %-12s %s\n", "", "cyl.", "right %", "open %", "good accused %", "bad missed %", "start s", "end s", "s/case")
}

func (t *tally) print(seconds float64) {
	s := t.all
	fmt.Printf("%-37s %5d  %-18s %6.1f  %-18s %-18s %-12s %-12s %.2f\n", t.name, s.cylinders, share(s.right, s.cylinders), 100*float64(s.open)/float64(max(s.cylinders, 1)),
		share(s.accused, s.good), share(s.missed, s.bad), spread(t.starts), spread(t.ends), seconds)
	if t.units > 0 {
		fmt.Printf("    %.2f cuts a cylinder (twice each is 2): %.0f %% saved; each cylinder once: %s right, guided %s\n", float64(t.guidedCuts)/float64(t.units),
			100-50*float64(t.guidedCuts)/float64(t.units), share(t.onceRight, s.cylinders), share(s.right, s.cylinders))
	}
}

// printByCount breaks the rows down by number of cylinders.
func printByCount(all []*tally) {
	fmt.Printf("\n%-37s", "right % / good accused %, cylinders:")
	for n := 3; n <= 8; n++ {
		fmt.Printf("  %-24d", n)
	}
	fmt.Println()
	for _, t := range all {
		fmt.Printf("%-37s", t.name)
		for n := 3; n <= 8; n++ {
			text := "–"
			if s := t.byCount[n]; s != nil {
				text = share(s.right, s.cylinders) + " / " + share(s.accused, s.good)
			}
			fmt.Printf("  %-24s", text)
		}
		fmt.Println()
	}
}

// share is a percentage with Wilson's interval.
func share(x, n int) string {
	ci, err := plan.Wilson(x, n, 0.95)
	if err != nil || n == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f (%.1f–%.1f)", 100*float64(x)/float64(n), 100*ci.Low, 100*ci.High)
}

// spread is the 95th percentile and the worst of deviations, in size.
func spread(deviations []float64) string {
	if len(deviations) == 0 {
		return "–"
	}
	var size []float64
	for _, d := range deviations {
		size = append(size, math.Abs(d))
	}
	slices.Sort(size)
	return fmt.Sprintf("%.2f/%.2f", size[(len(size)-1)*95/100], size[len(size)-1])
}

func printCuts(x example, r cutout.Result) {
	fmt.Printf("  seed %d %s idle %.0f rpm\n", x.seed, r.Layout, float64(r.IdleRPM))
	for i, c := range r.Cuts {
		var done string
		for _, d := range x.cuts {
			if math.Abs(d.Start-c.Start) < 4 {
				done = fmt.Sprintf("done %v of %.2f, %.2f–%.2f", d.Cylinders, x.truth[d.Cylinders[0]-1], d.Start, d.End)
			}
		}
		fmt.Printf("    cut %2d %v %.2f–%.2f (%s) seen %v %v drop %.0f±%.0f rise %.0f±%.0f", i+1, c.Cylinders, c.Start, c.End, done, c.Seen, c.EndSeen, c.Drop.Value, c.Drop.Sigma, c.Rise.Value, c.Rise.Sigma)
		if c.Effort != nil {
			fmt.Printf(" effort %.2f±%.2f", c.Effort.Value, c.Effort.Sigma)
		}
		if c.Rough != nil {
			fmt.Printf(" rough %.3f±%.3f", c.Rough.Value, c.Rough.Sigma)
		}
		if c.Loss != nil {
			fmt.Printf(" loss %.3f±%.3f", c.Loss.Value, c.Loss.Sigma)
		}
		fmt.Println(map[bool]string{true: " disturbed"}[c.Disturbed], map[bool]string{true: " stalled"}[c.Stalled])
	}
	fmt.Printf("    loads %.1f, effort %s\n", r.Loads, r.Effort)
	for _, n := range r.Notes {
		fmt.Println("    note:", n)
	}
}
