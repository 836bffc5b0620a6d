package crank

import (
	"slices"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// Of an engine that hardly pulls an idle of any length leaves open whether a cylinder
// is dead or its flywheel light: the suspect is said, not accused. The same engine
// recorded at two speeds tells.
func TestTwoSpeedsTellWhatIdleHides(t *testing.T) {
	idle := func(float64) float64 { return 750 }
	both := func(seconds float64) float64 { return min(3000, max(750, 750+(seconds-15)*750)) }
	hidden := 0
	for seed := range uint64(6) {
		for _, c := range []struct {
			cycles int
			rpm    func(float64) float64
		}{{94, idle}, {375, idle}, {330, both}} {
			s := defaultSim("i4", "60-2", 750)
			s.Seed, s.Cycles, s.RPM = seed+1, c.cycles, c.rpm
			s.Load, s.Cycle, s.Road, s.Spread = 0.44, 0.08, 6, 0.04
			bad := s.Layout.At(int(seed) % 4)
			s.Dead = map[engine.Cylinder]bool{bad: true}
			r, _ := analyse(t, s, s.reference())
			named := slices.Equal(r.Dead(), []engine.Cylinder{bad})
			if !named && (c.cycles == 330 || len(r.Dead()) > 0) {
				t.Errorf("seed %d, %d cycles: names %v, want %d: %s", s.Seed, c.cycles, r.Dead(), bad, r.Finding.Sentence)
			}
			if r.Finding.Verdict == finding.NoMisfire {
				t.Errorf("seed %d, %d cycles: %s", s.Seed, c.cycles, r.Finding.Sentence)
			}
			if strings.HasPrefix(r.Finding.Sentence, "Probably") && strings.Contains(r.Finding.Sentence, "3000 rpm") {
				hidden++
			}
		}
	}
	if hidden == 0 {
		t.Error("idle hid nothing: the engines pull too well for this test")
	}
}
