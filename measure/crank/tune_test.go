package crank

import (
	"testing"

	"halforder/engine"
)

// Weighers made for the works and the road of the engine at hand find what those
// that expect little of both lose.
func TestWeighersAreMadeForTheEngine(t *testing.T) {
	var hit, all, alarms, good int
	for seed := range uint64(3) {
		s := defaultSim("v10", "24", 6000)
		s.Seed, s.Cycles, s.Road, s.Belt, s.Jitter = seed+1, 500, 8, 3, 0.8e-6
		s.MissP = map[engine.Cylinder]float64{1: 0.03, 4: 0.03}
		r, truth := analyse(t, s, s.reference())
		h, a, f, g := score(s, r, truth)
		hit, all, alarms, good = hit+h, all+a, alarms+f, good+g
	}
	t.Logf("%d of %d misses found, %d false alarms in %d", hit, all, alarms, good)
	if all < 60 || float64(hit) < 0.95*float64(all) || float64(alarms) > 0.005*float64(good) {
		t.Errorf("%d of %d misses found, %d false alarms in %d", hit, all, alarms, good)
	}
}

// A speed seen seldom borrows its biases from the one beside it: the same
// weighers must have measured both.
func TestSpeedsThatLendAreWeighedAlike(t *testing.T) {
	for bin := 34; bin < 37; bin++ {
		s := defaultSim("i3", "60-2", 3000)
		low, _ := binLimits(bin)
		s.Cycles, s.RPM = 200, func(seconds float64) float64 { return low * (1.03 - 0.01*seconds) }
		rec, _ := s.run()
		a, err := prepare(Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, rec)
		if err != nil {
			t.Fatal(err)
		}
		a.weigh()
		if len(a.stats) < 2 {
			t.Fatalf("speeds fall in %d bins: the test needs two", len(a.stats))
		}
		for bin := range a.stats {
			if a.scales.bankFor(bin) != a.scales.bankFor(bin+1) && a.stats[bin+1] != nil {
				t.Errorf("bins %d and %d are weighed by different weighers", bin, bin+1)
			}
		}
	}
}
