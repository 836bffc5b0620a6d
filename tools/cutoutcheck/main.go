// Command cutoutcheck prints how often the cut-out test is right on simulated
// engines: by way of testing, by number of cylinders, with 95 % intervals.
//
//	go run ./tools/cutoutcheck -n 400
//	go run ./tools/cutoutcheck -n 1 -seed 34 -only "practice engine" -v -cuts
package main

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"time"

	"halforder/measure/cutout"
)

func main() {
	n := flag.Int("n", 100, "cases for each row")
	seed := flag.Uint64("seed", 1, "first seed")
	only := flag.String("only", "", "only rows whose name contains this")
	cylinders := flag.Int("cylinders", 0, "only engines of so many cylinders; 0: three to eight")
	verbose := flag.Bool("v", false, "print every cylinder that is wrong")
	cuts := flag.Bool("cuts", false, "print every cut of every case")
	calibrated := flag.Bool("calibration", false, "print how often stated chances and intervals come true")
	flag.Parse()
	printHead()
	var all []*tally
	for _, row := range rows() {
		if !strings.Contains(row.name, *only) {
			continue
		}
		t := &tally{name: row.name, verbose: *verbose, cuts: *cuts}
		began := time.Now()
		for i := range *n {
			if err := t.try(row, *seed+uint64(i), *cylinders); err != nil {
				fmt.Fprintf(os.Stderr, "cutoutcheck: %s, seed %d: %v\n", row.name, *seed+uint64(i), err)
			}
		}
		t.print(time.Since(began).Seconds() / float64(max(*n, 1)))
		if *calibrated {
			t.calibration.print()
		}
		all = append(all, t)
	}
	printByCount(all)
}

// try runs one case of a row.
func (t *tally) try(r row, seed uint64, cylinders int) error {
	if r.guided {
		return t.guided(seed, cylinders)
	}
	x, err := r.draw(seed, cylinders)
	if err != nil {
		return err
	}
	result, err := cutout.Analyse(x.recording)
	if err != nil {
		return err
	}
	t.compare(x, result)
	return nil
}
