package crank

import (
	"strings"
	"testing"

	"halforder/engine"
)

// Partial burns are called what they may be; firings that leave three quarters
// of the work are not taken for misses; misses under load are not doubted.
func TestPartialBurns(t *testing.T) {
	for _, c := range []struct {
		left, load float64
		named      bool // the cylinder misfires
		doubted    bool // whether it misses or burns in part
	}{{0, 1.2, true, false}, {0.4, 1, true, true}, {0.75, 1, false, false}} {
		for seed := range uint64(4) {
			s := defaultSim("i4", "60-2", 1500)
			s.Cycles, s.Seed, s.Load, s.Partial = 300, seed+1, c.load, c.left
			s.MissP = map[engine.Cylinder]float64{2: 0.06}
			rec, truth := s.run()
			r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, rec)
			if err != nil {
				t.Fatal(err)
			}
			named := len(r.Missing()) == 1 && r.Missing()[0] == 2
			doubted := strings.Contains(strings.Join(r.Finding.Notes, "\n"), "partial burns")
			if named != c.named || len(r.Missing())+len(r.Dead()) > 1 {
				t.Errorf("seed %d, %.0f %% of the work left: %s", s.Seed, 100*c.left, r.Finding.Sentence)
			}
			if named && doubted != c.doubted {
				t.Errorf("seed %d, %.0f %% of the work left, %d counted of %d: partial burns spoken of %v", s.Seed, 100*c.left, len(r.Misses), len(truth.Misses), doubted)
			}
		}
	}
}
