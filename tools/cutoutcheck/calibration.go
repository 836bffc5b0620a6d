package main

import (
	"fmt"
	"math"

	"halforder/measure/cutout"
)

// calibration compares what the test says of its own errors with its errors:
// chances that are stated with how often they come true, and deviations of
// strengths with their standard deviations.
type calibration struct {
	chances [len(chanceBounds)]chanceBin
	offs    []float64 // deviations of strengths in their standard deviations
}

// chanceBounds are the upper bounds of the bins in which chances of working are
// counted.
var chanceBounds = [...]float64{0.015, 0.05, 0.2, 0.5, 0.8, 0.9, 0.97, 1.01}

type chanceBin struct {
	cylinders, good int
	stated          float64 // sum of the chances
}

func (c *calibration) add(truth float64, k cutout.Cylinder) {
	for i, bound := range chanceBounds {
		if k.PWorks < bound {
			b := &c.chances[i]
			b.cylinders++
			b.stated += k.PWorks
			if cutout.VerdictOf(truth) == cutout.Works {
				b.good++
			}
			break
		}
	}
	if k.Strength.Sigma > 0 && k.Cuts > 0 {
		c.offs = append(c.offs, (k.Strength.Value-truth)/k.Strength.Sigma)
	}
}

// intervals that a normal deviation stays in 68 and 90 % of the time, in
// standard deviations.
const within68, within90 = 1.0, 1.645

func (c calibration) print() {
	fmt.Print("    chance of working, stated → true (cylinders):")
	for _, b := range c.chances {
		if b.cylinders > 0 {
			n := float64(b.cylinders)
			fmt.Printf("  %.2f→%.2f (%d)", b.stated/n, float64(b.good)/n, b.cylinders)
		}
	}
	in68, in90 := 0, 0
	for _, z := range c.offs {
		if math.Abs(z) < within68 {
			in68++
		}
		if math.Abs(z) < within90 {
			in90++
		}
	}
	n := float64(max(len(c.offs), 1))
	fmt.Printf("\n    strengths: 68 %% intervals hold %.0f %%, 90 %% intervals hold %.0f %% of %d\n", 100*float64(in68)/n, 100*float64(in90)/n, len(c.offs))
}
