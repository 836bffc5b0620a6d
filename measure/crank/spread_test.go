package crank

import (
	"testing"

	"halforder/engine"
)

// A lean mixture misses now here, now there: a fifth of all firings of a
// four-cylinder at idle, where each miss lifts the firings weighed beside it.
func TestMissesSpreadOverAllCylindersAreCounted(t *testing.T) {
	const share = 0.2
	for seed := range uint64(4) {
		s := defaultSim("i4", "60-2", 750)
		s.Seed, s.Cycles, s.Load = seed+1, 150, 1.15
		s.MissP = map[engine.Cylinder]float64{1: share, 2: share, 3: share, 4: share}
		rec, truth := s.run()
		r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, rec)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := len(r.Misses), len(truth.Misses); got < want*9/10 || got > want*11/10 {
			t.Errorf("seed %d: counts %d misses, truly %d: more than a tenth off", s.Seed, got, want)
		}
		if len(r.Dead()) > 0 {
			t.Errorf("seed %d: calls %v dead", s.Seed, r.Dead())
		}
	}
}
