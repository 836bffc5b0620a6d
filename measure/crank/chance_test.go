package crank

import (
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// roughIdle is an engine that hardly pulls, on a rough road, for so many cycles.
func roughIdle(seed uint64, cycles int) simEngine {
	s := defaultSim("i6", "60-2", 750)
	s.Seed, s.Cycles, s.Load, s.Cycle, s.Road, s.Belt = seed, cycles, 0.5, 0.1, 5.2, 3.5
	return s
}

// A short recording of an engine that misses shallowly is doubted rather than
// called sound: its weak firings all come from one cylinder.
func TestShortRecordingsOfMissesAreNotCalledSound(t *testing.T) {
	doubts := 0
	for seed := range uint64(8) {
		s := roughIdle(seed+1, 125)
		s.MissP = map[engine.Cylinder]float64{3: 0.05}
		rec, truth := s.run()
		r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, rec)
		if err != nil {
			t.Fatal(err)
		}
		missed := 0
		for _, m := range truth.Misses {
			if m {
				missed++
			}
		}
		if missed >= 5 && r.Finding.Verdict == finding.NoMisfire {
			t.Errorf("seed %d missed %d times: %s", s.Seed, missed, r.Finding.Sentence)
		}
		if r.Finding.Verdict == finding.CannotTell {
			doubts++
			if !strings.Contains(r.Finding.Sentence, "cylinder 3 looked weak") {
				t.Errorf("seed %d: %s", s.Seed, r.Finding.Sentence)
			}
		}
	}
	if doubts == 0 {
		t.Error("no recording was doubted: the engines pull too well for this test")
	}
}

// Sound engines on that road stay sound, and a short recording says what it may
// have hidden, a long one does not.
func TestSoundShortRecordingsStaySound(t *testing.T) {
	for _, c := range []struct {
		cycles int
		said   string
	}{{60, "11 %"}, {125, "5 %"}, {600, ""}} {
		for seed := range uint64(4) {
			s := roughIdle(seed+1, c.cycles)
			rec, _ := s.run()
			r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, rec)
			if err != nil {
				t.Fatal(err)
			}
			if said := strings.Contains(r.Finding.Sentence, "so short a recording"); r.Finding.Verdict != finding.NoMisfire || said != (c.said != "") || !strings.Contains(r.Finding.Sentence, c.said) {
				t.Errorf("seed %d, %d cycles, want %q: %s", s.Seed, c.cycles, c.said, r.Finding.Sentence)
			}
		}
	}
}
