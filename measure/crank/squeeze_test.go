package crank

import (
	"math"
	"testing"
)

// A tight spring gives back all it took; one that leaks never more than a
// tight one, and gives back less the more it leaks.
func TestSqueezesGiveBackWhatTheyTook(t *testing.T) {
	table := squeezes()
	top := int(drawDeg / crankStep)
	sums := func(v []float64) (taken, back float64) {
		for j, e := range v {
			if j < top {
				taken += e * crankStep / 100
			} else {
				back -= e * crankStep / 100
			}
		}
		return taken, back
	}
	taken, back := sums(table.leaking[int(math.Round(1/squeezeStep))])
	if math.Abs(taken-1) > 1e-3 || math.Abs(back-1) > 0.01 {
		t.Errorf("a tight cylinder takes %.4f and gives back %.4f, expected 1 and 1", taken, back)
	}
	last := math.Inf(1)
	for i := len(table.leaking) * 2 / 3; i > 0; i-- {
		taken, back := sums(table.leaking[i])
		if share := back / taken; share > last+1e-9 {
			t.Errorf("at a peak of %.2f the share given back rises from %.3f to %.3f", float64(i)*squeezeStep, last, share)
		} else {
			last = share
		}
	}
}

// The peak is that of the polytropic law (published: Heywood 9.2), from the
// volume at which the valves shut.
func TestTightSqueezeReachesThePolytropicPressure(t *testing.T) {
	_, peak := squeezed(spring{fill: 1})
	want := math.Pow(springVolume(-shutDeg)*springRatio, polytropic)
	if math.Abs(peak/want-1) > 1e-9 {
		t.Errorf("peak %.3f, expected %.3f times the air's", peak, want)
	}
	if full := springVolume(180); math.Abs(full-1) > 1e-12 {
		t.Errorf("volume at bottom dead centre %.6f of the largest", full)
	}
}
