package crank

import (
	"math/rand/v2"
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

// Beside a dead cylinder, shallow outliers are a road and deep ones misses.
func TestShallowOutliersBesideADeadCylinderAreNoMisses(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, c := range []struct {
		depth float64
		dead  bool
		want  bool
	}{{0.45, false, true}, {0.45, true, false}, {1, true, true}} {
		firings := make([]firing, 0, 400)
		for i := range 400 {
			excess := 0.07 * r.NormFloat64()
			if i%3 > 0 && i%20 == 0 {
				excess -= c.depth
			}
			firings = append(firings, firing{slot: int16(i % 3), excess: float32(excess)})
		}
		levels := binLevels{slots: make([]level, 3)}
		levels.slots[0].dead = c.dead
		if m := fitMisses(firings, map[int]binLevels{0: levels}); m.clear != c.want {
			t.Errorf("outliers %.2f of a full miss, dead neighbour %v: taken for misses %v at depth %.2f", c.depth, c.dead, m.clear, m.depth)
		}
	}
}
