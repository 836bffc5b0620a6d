package crank

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestRankedIsAsSorted(t *testing.T) {
	const seed = 7
	r := rand.New(rand.NewPCG(seed, 1))
	for round := range 300 {
		v := make([]float64, 1+r.IntN(200))
		for i := range v {
			v[i] = math.Floor(r.NormFloat64() * float64(1+round%40)) // with equals
		}
		want := slices.Sorted(slices.Values(v))
		k := r.IntN(len(v))
		got := slices.Clone(v)
		if x := ranked(got, k); x != want[k] {
			t.Fatalf("seed %d, round %d: place %d of %v: %g, want %g", seed, round, k, v, x, want[k])
		}
		if n := len(want); n%2 == 0 && median(v) != (want[n/2-1]+want[n/2])/2 || n%2 == 1 && median(v) != want[n/2] {
			t.Fatalf("seed %d, round %d: median of %v: %g", seed, round, v, median(v))
		}
	}
}
