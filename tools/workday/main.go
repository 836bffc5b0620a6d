// Workday plays a technician who follows the plan on practice cars with a hidden
// fault: every check it proposes is done on an engine that obeys physics, not on the
// catalogue's own table of answers, and what was read goes on a job card. It prints
// what the cars cost against the best plan of a technician who knows all suspects,
// which repairs were wrong and where the belief held a good part guilty; it fails on
// nothing: read it.
//
//	go run ./tools/workday -jobs 40 -engines i4,i6 -trace
package main

import (
	"flag"
	"fmt"
	"os"
	"strings"

	"halforder/engine"
	"halforder/practice/exercise"
	"halforder/reason/fault"
)

func main() {
	jobs := flag.Int("jobs", 24, "practice cars of each complaint")
	first := flag.Uint64("seed", 1, "first practice car")
	engines := flag.String("engines", "i4", "layouts, by comma, in turn")
	complaints := flag.String("complaints", strings.Join(exercise.Complaints(), ","), "complaints, by comma")
	buried := flag.Bool("buried", false, "coils and plugs sit under the plenum")
	trace := flag.Bool("trace", false, "print every step")
	flag.Parse()
	if err := run(*jobs, *first, *engines, *complaints, *buried, *trace); err != nil {
		fmt.Fprintln(os.Stderr, "workday:", err)
		os.Exit(1)
	}
}

func run(jobs int, first uint64, engines, complaints string, buried, trace bool) error {
	cat, err := fault.Default()
	if err != nil {
		return err
	}
	layouts := strings.Split(engines, ",")
	var all tally
	for _, complaint := range strings.Split(complaints, ",") {
		var days tally
		for i := range jobs {
			layout, err := engine.Parse(layouts[i%len(layouts)])
			if err != nil {
				return err
			}
			x, err := exercise.New(first+uint64(i), layout, complaint, buried)
			if err != nil {
				return err
			}
			day := work(cat, x, trace)
			fmt.Printf("%s %d, %s: %s\n", complaint, first+uint64(i), layout.Title(), day)
			days.add(day)
		}
		fmt.Printf("\n%s: %s\n\n", complaint, days)
		all.join(days)
	}
	fmt.Printf("all: %s\n", all)
	return nil
}

// tally sums working days.
type tally struct {
	jobs, right, wrong, handed, needless, accused, failed int
	bill, best                                            float64
}

func (t *tally) add(d day) {
	t.jobs++
	t.needless += len(d.needless)
	t.accused += len(d.accused)
	switch {
	case d.err != nil:
		t.failed++
	case d.mended:
		t.right++
		t.bill += d.bill
		t.best += d.best
	case d.ended == proven:
		t.wrong++
	default:
		t.handed++
	}
}

func (t *tally) join(o tally) {
	t.jobs, t.right, t.wrong, t.handed = t.jobs+o.jobs, t.right+o.right, t.wrong+o.wrong, t.handed+o.handed
	t.needless, t.accused, t.failed = t.needless+o.needless, t.accused+o.accused, t.failed+o.failed
	t.bill, t.best = t.bill+o.bill, t.best+o.best
}

func (t tally) String() string {
	return fmt.Sprintf("%d jobs, %d mended (bill %.2f of the best plan's), %d wrong, %d handed on, %d stuck; %d needless repairs, %d times a good part at 90 %% or more",
		t.jobs, t.right, t.bill/max(t.best, 1), t.wrong, t.handed, t.failed, t.needless, t.accused)
}
