// Command crankscore measures how well the crank analysis finds misses and names
// dead cylinders: every layout, wheel and speed, healthy, with random misses and
// with a dead cylinder, on the practice engine or on a rough road.
//
//	go run ./tools/crankscore -world road -seconds 6 -seeds 20
//
// Shares carry 95 % Wilson intervals.
package main

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/floats"

	"halforder/engine"
	"halforder/reason/plan"
)

func main() {
	c := conditions{}
	flag.Float64Var(&c.seconds, "seconds", 10, "length of each recording")
	flag.Float64Var(&c.spacing, "spacing", 0.03, "mark error, degrees")
	flag.Float64Var(&c.runout, "runout", 0.1, "once per turn error, degrees")
	flag.Float64Var(&c.jitter, "jitter", 0.5e-6, "edge jitter, seconds")
	flag.Float64Var(&c.load, "load", 1, "work of a firing, road only: 1 pulls, 0.5 turns without load")
	flag.Float64Var(&c.brake, "brake", 0, "brake torque, N·m per cylinder, practice engine only")
	flag.BoolVar(&c.verbose, "v", false, "print each sentence")
	flag.BoolVar(&c.wild, "wild", false, "draw spacing, run-out, jitter, road, belt and load anew for each engine, road only")
	flag.Float64Var(&c.lean, "lean", 0, "share of firings that miss in all cylinders alike, instead of one dead and one missing")
	world := flag.String("world", "practice", "practice or road")
	layouts := flag.String("layouts", "i3,i4,i5,i6,v8-18436572,v10,v12", "engine layouts")
	speeds := flag.String("speeds", "0,1500,3000,6000", "speeds in rpm, 0 for idle")
	only := flag.String("wheels", "", "wheels, all if empty; with -cranking one, 60-2 if empty")
	seeds := flag.Int("seeds", 1, "engines of each kind")
	from := flag.Int("from", 1, "first seed")
	bound := flag.Bool("bound", false, "what the best possible detector would find at 0.5 % false alarms, road only, instead of misses")
	kinds := flag.String("kinds", "healthy,dead,missing", "engines to run: healthy, dead (one cylinder), missing (one now and then)")
	cranking := flag.Bool("cranking", false, "relative compression while the starter turns the practice engine, instead of misses")
	flag.Parse()
	if *cranking {
		for _, w := range wheels() {
			if w.name == *only || *only == "" && w.name == "60-2" {
				scoreCranking(c, w, parseLayouts(*layouts), *seeds, *from)
			}
		}
		return
	}
	c.drive = map[string]driver{"practice": onBench, "road": onRoad}[*world]
	if c.drive == nil {
		check(fmt.Errorf("no world %q: practice or road", *world))
	}
	fmt.Println(header)
	for _, layout := range parseLayouts(*layouts) {
		for _, w := range wheels() {
			if *only != "" && !slices.Contains(strings.Split(*only, ","), w.name) {
				continue
			}
			for _, speed := range strings.Split(*speeds, ",") {
				rpm, err := strconv.ParseFloat(speed, 64)
				check(err)
				var s score
				for seed := range *seeds {
					t := trial{c, layout, w, rpm, uint64(*from + seed), healthy}
					if *bound {
						s.bounds = append(s.bounds, t.onRoad().Bound(0.005))
						continue
					}
					for _, t.kind = range parseKinds(*kinds, c.lean > 0) {
						s.add(t)
					}
				}
				s.print(layout.String(), w.name, rpm)
			}
		}
	}
}

func parseLayouts(names string) (out []engine.Layout) {
	for _, name := range strings.Split(names, ",") {
		layout, err := engine.Parse(name)
		check(err)
		out = append(out, layout)
	}
	return out
}

// parseKinds names kinds; with a lean mixture faults of one cylinder give way to it.
func parseKinds(names string, lean bool) (out []kind) {
	if lean {
		return []kind{healthy, spread}
	}
	known := map[string]kind{"healthy": healthy, "dead": dead, "missing": missing}
	for _, name := range strings.Split(names, ",") {
		k, ok := known[name]
		if !ok {
			check(fmt.Errorf("no kind %q: healthy, dead or missing", name))
		}
		out = append(out, k)
	}
	return out
}

// conditions are the same for all trials.
type conditions struct {
	drive                   driver
	seconds                 float64
	spacing, runout, jitter float64
	load, brake, lean       float64
	verbose, wild           bool
}

type kind int

const (
	healthy kind = iota
	dead
	missing // in 5 % of the firings of one cylinder
	spread  // in a share of the firings of all cylinders, as a lean mixture does
)

// missShare is how often a missing cylinder misses.
const missShare = 0.05

// trial is one engine to run.
type trial struct {
	conditions
	layout engine.Layout
	wheel  wheel
	rpm    float64
	seed   uint64
	kind   kind
}

// bad is the cylinder that does not work.
func (t trial) bad() engine.Cylinder { return engine.Cylinder(1 + (int(t.seed)*7+3)%t.layout.N()) }

type wheel struct {
	name, spec string
	marks      []float64 // degrees of a turn
}

func wheels() []wheel {
	teeth := func(places int, missing ...int) (out []float64) {
		for p := range places {
			if !slices.Contains(missing, p) {
				out = append(out, 360*float64(p)/float64(places))
			}
		}
		return out
	}
	return []wheel{
		{"60-2", "60-2", teeth(60, 58, 59)}, {"36-1", "36-1", teeth(36, 35)}, {"36-2-1", "36-2-1", teeth(36, 16, 34, 35)},
		{"24", "24", teeth(24)}, {"6u", "6u", []float64{0, 56, 127, 186, 238, 301}},
	}
}

const header = "layout         wheel     rpm | misses found           | false alarms          | dead named             | wrong | healthy accused, cannot tell"

func (s score) print(layout, wheel string, rpm float64) {
	if len(s.bounds) > 0 {
		fmt.Printf("%-14s %-7s %5.0f | at best %6.2f %% of misses, worst of %d engines %6.2f %%\n", layout, wheel, rpm,
			100*floats.Sum(s.bounds)/float64(len(s.bounds)), len(s.bounds), 100*slices.Min(s.bounds))
		return
	}
	fmt.Printf("%-14s %-7s %5.0f | %s | %s | %s | %5d | %d, %d of %d", layout, wheel, rpm,
		share(s.hit, s.hit+s.missed), share(s.falseAlarm, s.good), share(s.named, s.named+s.unnamed), s.wrong, s.accused, s.blind, s.runs)
	for what, n := range map[string]int{"failed": s.failed, "stalled": s.stalled, "missing but called sound": s.denied} {
		if n > 0 {
			fmt.Printf(", %s %d", what, n)
		}
	}
	fmt.Println()
}

// share is x of n in percent with its interval.
func share(x, n int) string {
	w, err := plan.Wilson(x, n, 0.95)
	if err != nil || n == 0 {
		return "     –"
	}
	return fmt.Sprintf("%6.2f %% [%6.2f–%6.2f]", 100*float64(x)/float64(n), 100*w.Low, 100*w.High)
}

func check(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "crankscore:", err)
		os.Exit(1)
	}
}
