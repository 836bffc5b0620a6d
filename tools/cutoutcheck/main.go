// Command cutoutcheck prints how often the cut-out test is right on simulated
// engines: by layout, by kind of recording, by fault.
//
//	go run ./tools/cutoutcheck -n 400
package main

import (
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/tools/idlesim"
)

func main() {
	n := flag.Int("n", 200, "cases for each row")
	seed := flag.Uint64("seed", 1, "first seed")
	only := flag.String("only", "", "print only rows whose name contains this")
	verbose := flag.Bool("v", false, "print every cylinder that is wrong")
	flag.Parse()
	fmt.Printf("%-34s %6s %7s %7s %8s %8s %8s\n", "cases (seed "+fmt.Sprint(*seed)+")", "cyl.", "right", "open", "accused", "missed", "start s")
	for _, row := range rows() {
		if !strings.Contains(row.name, *only) {
			continue
		}
		var t tally
		for i := range *n {
			switch {
			case row.practice:
				t.addPractice(*seed+uint64(i), *verbose)
			case row.guided:
				t.addGuided(idlesim.Random(*seed+uint64(i), row.options), *verbose)
			default:
				t.add(idlesim.Random(*seed+uint64(i), row.options), row.efforts, *verbose)
			}
		}
		t.print(row.name)
	}
}

type row struct {
	name    string
	options idlesim.Options
	efforts bool

	practice bool // on the practice engine
	guided   bool // the plan says what to cut, and when to stop
}

func rows() []row {
	out := []row{
		{name: "practice engine, with button", practice: true},
		{name: "guided by the plan", options: idlesim.Options{Faults: -1, Marked: true, Once: true}, efforts: true, guided: true},
		{"all, with button, air and spark", idlesim.Options{Faults: -1, Marked: true}, true, false, false},
		{"all, with button, speed alone", idlesim.Options{Faults: -1, Marked: true}, false, false, false},
		{"no button, order called", idlesim.Options{Faults: -1, Unmarked: true}, true, false, false},
		{"button, each cylinder once", idlesim.Options{Faults: -1, Marked: true, Once: true}, true, false, false},
		{"button, 3 % wrong cylinder", idlesim.Options{Faults: -1, Marked: true, WrongShare: 0.03}, true, false, false},
		{"healthy", idlesim.Options{Faults: 0, Marked: true}, true, false, false},
		{"two faults", idlesim.Options{Faults: 2, Marked: true}, true, false, false},
		{"2.5 samples a second", idlesim.Options{Faults: -1, Marked: true, Rate: 2.5}, true, false, false},
	}
	for n := 3; n <= 8; n++ {
		out = append(out, row{fmt.Sprintf("%d cylinders", n), idlesim.Options{Faults: -1, Marked: true, Cylinders: n}, true, false, false})
	}
	return out
}

// tally counts cylinders.
type tally struct {
	cylinders, right, open, good, accused, bad, missed int
	starts                                             []float64
	cuts, units                                        int
}

func (t *tally) add(c idlesim.Case, efforts, verbose bool) {
	r, err := cutout.Analyse(Recording(c, efforts))
	if err != nil {
		fmt.Fprintln(os.Stderr, "cutoutcheck:", c.Seed, err)
		return
	}
	t.compare(c.Seed, r, c.Truth(), verbose)
	for _, cut := range c.Cuts {
		best := math.Inf(1)
		for _, found := range r.Cuts {
			if found.Seen {
				best = min(best, math.Abs(found.Start-cut.Start))
			}
		}
		if best < 3 {
			t.starts = append(t.starts, best)
		}
	}
}

// addGuided cuts what the plan asks for until it has enough.
func (t *tally) addGuided(c idlesim.Case, verbose bool) {
	units := cutout.Units(c.Car.Layout, false)
	var order []engine.Cylinder
	var done []cutout.Unit
	var r cutout.Result
	for {
		p := cutout.Next(r, units, done, c.Seed)
		if p.Done {
			break
		}
		order, done = append(order, p.Cut...), append(done, p.Cut)
		if len(done) < len(units) {
			continue
		}
		var err error
		if r, err = cutout.Analyse(Recording(c.Again(order), true)); err != nil {
			fmt.Fprintln(os.Stderr, "cutoutcheck:", c.Seed, err)
			return
		}
	}
	t.cuts += len(order)
	t.units += len(units)
	t.compare(c.Seed, r, c.Truth(), verbose)
}

func (t *tally) addPractice(seed uint64, verbose bool) {
	rec, truth, err := practiceCase(seed, 0)
	if err == nil {
		var r cutout.Result
		if r, err = cutout.Analyse(rec); err == nil {
			t.compare(seed, r, truth, verbose)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "cutoutcheck: practice case", seed, err)
	}
}

func (t *tally) compare(seed uint64, r cutout.Result, truths []float64, verbose bool) {
	for i, truth := range truths {
		k := r.Cylinders[i]
		t.count(truth, k.Verdict)
		if verbose && wrong(truth, k.Verdict) {
			fmt.Printf("  seed %d %s cylinder %d truth %.2f: %s (%.3f %.3f %.3f) strength %.2f±%.2f\n", seed, r.Layout, i+1, truth, k.Verdict, k.PWorks, k.PWeak, k.PDead, k.Strength.Value, k.Strength.Sigma)
		}
	}
}

func wrong(truth float64, v cutout.Verdict) bool {
	return v == cutout.CannotTell || v != state(truth)
}

// state by the same bounds as the analysis: 0.15 and 0.85 of a healthy one.
func state(truth float64) cutout.Verdict {
	switch {
	case truth < 0.15:
		return cutout.Dead
	case truth < 0.85:
		return cutout.Weak
	}
	return cutout.Works
}

func (t *tally) count(truth float64, v cutout.Verdict) {
	t.cylinders++
	want := state(truth)
	switch {
	case v == want:
		t.right++
	case v == cutout.CannotTell:
		t.open++
	}
	if want == cutout.Works {
		t.good++
		if v == cutout.Weak || v == cutout.Dead {
			t.accused++
		}
		return
	}
	t.bad++
	if v == cutout.Works {
		t.missed++
	}
}

func (t *tally) print(name string) {
	percent := func(a, b int) float64 { return 100 * float64(a) / float64(max(b, 1)) }
	slices.Sort(t.starts)
	worst := math.NaN()
	if len(t.starts) > 0 {
		worst = t.starts[len(t.starts)*9/10]
	}
	fmt.Printf("%-34s %6d %6.1f%% %6.1f%% %7.2f%% %7.2f%% %8.2f\n", name, t.cylinders, percent(t.right, t.cylinders), percent(t.open, t.cylinders), percent(t.accused, t.good), percent(t.missed, t.bad), worst)
	if t.units > 0 {
		fmt.Printf("%-34s %.2f cuts a cylinder; twice each, forwards and backwards, is 2\n", "", float64(t.cuts)/float64(t.units))
	}
}

// Recording is the case as the analysis gets it.
func Recording(c idlesim.Case, efforts bool) cutout.Recording {
	r := cutout.Recording{Layout: c.Car.Layout}
	r.Speed.T, r.Speed.Y = c.Trace.Sample(idlesim.RPM, c.Rate, c.Noise, c.Quantum, c.Seed)
	if efforts {
		rate := math.Min(c.Rate, 10)
		air, spark := cutout.Effort{Name: "air", Unit: "ratio"}, cutout.Effort{Name: "spark", Unit: "deg"}
		air.T, air.Y = c.Trace.Sample(idlesim.Air, rate, 0.02, 0.01, c.Seed+1)
		spark.T, spark.Y = c.Trace.Sample(idlesim.Spark, rate, 0.3, 0.5, c.Seed+2)
		r.Efforts = []cutout.Effort{air, spark}
	}
	for _, call := range c.Called {
		if c.Marked {
			r.Marks = append(r.Marks, cutout.Mark{At: call.Off, Cylinders: call.Cylinders}, cutout.Mark{At: call.On, On: true})
		} else {
			r.Called = append(r.Called, call.Cylinders)
		}
	}
	return r
}
