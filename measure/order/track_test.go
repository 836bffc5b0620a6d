package order

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The paths found by halves are those found by trying every change of speed.
func TestTrackerTriesAllChanges(t *testing.T) {
	const places = 400
	rng := rand.New(rand.NewPCG(2, 7))
	tr := newTracker(places)
	for hop := range 40 {
		before, scores := append([]float64(nil), tr.total...), make([]float64, places)
		for k := range scores {
			scores[k] = 8 * rng.NormFloat64()
		}
		tr.add(scores)
		top := before[loudest(before)]
		for k, got := range tr.total {
			want := top - jumpCost
			for from := max(0, k-tr.reach); from <= min(k+tr.reach, places-1); from++ {
				if before[from] > top-jumpCost {
					want = max(want, before[from]-tr.cost[abs(k-from)])
				}
			}
			if want += scores[k] - top; math.Abs(got-want) > 1e-9 {
				t.Fatalf("hop %d, place %d: %g, want %g", hop, k, got, want)
			}
		}
		if hop == 20 {
			tr.prefer(137)
		}
	}
}
