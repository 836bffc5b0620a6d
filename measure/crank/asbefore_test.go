package crank

import (
	"math"
	"slices"
	"testing"
)

// sixMarks are the passing times of six uneven marks over so many turns, of an
// engine that compressions slow by the share.
func sixMarks(turns int, slowed float64) (w Wheel, edges []float64) {
	w, _ = ParseWheel("6@0-56-127-186-238-301")
	t, at := 0.0, 0.0
	for turn := range turns {
		for _, a := range w.Angles {
			for now := turnDeg*float64(turn) + a; at < now; at++ {
				t += (1 + slowed*math.Cos(2*at*math.Pi/180)) / 6 / 700
			}
			edges = append(edges, t)
		}
	}
	return w, edges
}

func TestFewMarksMissedAndPulsesDoNotShiftTheCount(t *testing.T) {
	for _, slowed := range []float64{0, 0.1, 0.3} {
		for at := 120; at < 126; at++ {
			w, edges := sixMarks(60, slowed)
			missed := slices.Delete(slices.Clone(edges), at, at+1)
			got := follow(w, missed)
			if len(got.runs) != 1 || got.missed != 1 || got.spurious != 0 {
				t.Errorf("slowed %g, mark %d missed: %d runs, %d missed, %d pulses; want 1, 1, 0", slowed, at, len(got.runs), got.missed, got.spurious)
			}
			for _, part := range []float64{0.35, 0.5, 0.65} {
				pulse := slices.Insert(slices.Clone(edges), at+1, edges[at]+part*(edges[at+1]-edges[at]))
				got := follow(w, pulse)
				if len(got.runs) != 1 || got.missed != 0 || got.spurious != 1 {
					t.Errorf("slowed %g, pulse after mark %d at %g: %d runs, %d missed, %d pulses; want 1, 0, 1", slowed, at, part, len(got.runs), got.missed, got.spurious)
				}
			}
		}
	}
}

func TestFewMarksSlowedByCompressionsAreAllMarks(t *testing.T) {
	w, edges := sixMarks(60, 0.45)
	if got := follow(w, edges); len(got.runs) != 1 || got.missed+got.spurious != 0 {
		t.Errorf("%d runs, %d missed, %d pulses; want 1, 0, 0", len(got.runs), got.missed, got.spurious)
	}
}
