package web

import (
	"math"
	"slices"
	"testing"

	"halforder/finding"
)

// A spike of one sample in half a million survives thinning, and what is looked
// at closely comes in full.
func TestThinningKeepsSpikes(t *testing.T) {
	s := finding.Series{Shape: finding.Line}
	for i := range 500_000 {
		s.X, s.Y = append(s.X, float64(i)), append(s.Y, math.Sin(float64(i)/1000))
	}
	s.Y[333_333], s.Y[77] = 9, -9
	thin := thinned(s, plotWidth)
	if len(thin.X) > plotWidth || len(thin.X) < plotWidth/2 || slices.Max(thin.Y) != 9 || slices.Min(thin.Y) != -9 || !slices.IsSorted(thin.X) {
		t.Errorf("%d points from %g to %g", len(thin.X), slices.Min(thin.Y), slices.Max(thin.Y))
	}
	near := thinned(between(s, 333_000, 333_600), plotWidth)
	if len(near.X) != 603 && len(near.X) != 602 || near.X[0] > 333_000 || near.X[len(near.X)-1] < 333_600 {
		t.Errorf("%d points from %g to %g, want 600 and a neighbour on either side", len(near.X), near.X[0], near.X[len(near.X)-1])
	}
}
