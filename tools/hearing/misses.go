package main

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/signal"
)

// lazySparks are faults that miss now and then, more with severity.
var lazySparks = []string{"plug-cracked@%d:0.5", "plug-cracked@%d:0.8", "coil-wiring@%d:0.5", "coil-wiring@%d:0.7", "boot-leak@%d:0.7"}

// missSeconds is the length of the recordings in which misses are counted.
const missSeconds = 30.0

// sweepMisses counts the cycles that miss: within 5 points of the truth, right;
// none given, or no verdict, open. The second table asks whether the interval holds the truth.
func sweepMisses(seeds seedSpan, layouts string, share, covered *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		bad := turnBy(layout, seed)
		for _, text := range lazySparks {
			cfg, err := config(layout, uint64(seed), []string{fmt.Sprintf(text, bad)})
			if err != nil {
				continue
			}
			sound := practice.SoundSensor{Hz: soundHz}
			rec, truth, err := practice.Run(cfg, practice.Watch(missSeconds), practice.Sensors{Sound: &sound})
			if err != nil {
				continue
			}
			want := missedShare(truth, bad)
			f, err := order.Analyse(signal.FromMemory(rec.Sound.X), soundHz, order.Config{Layout: layout})
			row := "truth " + shareClass(want)
			countShare(f, err, want, share.at(row), covered.at(row))
		}
	})
}

func countShare(f finding.Finding, err error, want float64, share, covered *cell) {
	q, ok := f.Quantity(order.MissesQuantity)
	if err != nil || !ok {
		share.open++
		covered.open++
		return
	}
	switch {
	case f.Verdict == finding.CannotTell:
		share.open++
	case math.Abs(q.Value-want) <= 0.05:
		share.right++
	default:
		share.wrong++
	}
	if q.Low <= want && want <= q.High {
		covered.right++
	} else {
		covered.wrong++
	}
}

func missedShare(truth practice.Truth, bad engine.Cylinder) float64 {
	var missed, n float64
	for _, f := range truth.Firings {
		if f.Cylinder == bad {
			n++
			if f.Missed {
				missed++
			}
		}
	}
	return missed / max(n, 1)
}

func shareClass(share float64) string {
	switch {
	case share < 0.02:
		return "under 2 %"
	case share < 0.15:
		return "2 to 15 %"
	case share < 0.85:
		return "15 to 85 %"
	}
	return "over 85 %"
}
