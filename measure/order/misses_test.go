package order

import (
	"math/rand/v2"
	"testing"

	"halforder/finding"
)

// A share of cycles that miss at random is counted within its interval, also
// where each miss slows the engine and so shifts all that follows.
func TestMissesAreCounted(t *testing.T) {
	for _, c := range []struct{ share, slow float64 }{{0.15, 0}, {0.4, 0}, {0.2, 0.05}, {0.4, 0.05}, {0.6, 0.05}} {
		rng := rand.New(rand.NewPCG(9, 9))
		s := broken(t)
		var missed, cycles float64
		s.work, s.seconds, s.slow = []float64{1, 1, 1, 1}, 20, c.slow
		s.miss = func(_, position int) bool {
			miss := position == 2 && rng.Float64() < c.share
			if position == 2 {
				cycles++
			}
			if miss {
				missed++
			}
			return miss
		}
		f := hear(t, s, s.sound())
		share := missed / cycles
		q, ok := f.Quantity(MissesQuantity)
		if f.Verdict != finding.Misfire || !ok || q.Low > share || q.High < share {
			t.Errorf("share %.2f, slowed by %.2f: %s %+v", share, c.slow, f.Sentence, q)
		}
	}
}

// The marks of a known ignition name the dead cylinder without a cut.
func TestMarkNamesTheDeadOne(t *testing.T) {
	s := broken(t)
	l, err := NewListener(Config{Layout: s.layout, Marked: s.layout.At(2)}, s.rate)
	if err != nil {
		t.Fatal(err)
	}
	x := s.sound()
	marks := make([]float32, len(x))
	for at := 0.05; at < s.seconds; at += 120 / s.rpm { // 20° before the burst of position 2
		from := int((at + 120/s.rpm*(0.5-20.0/720)) * s.rate)
		for i := range 60 {
			if from+i < len(marks) {
				marks[from+i] = 1
			}
		}
	}
	l.Write(x)
	l.WriteMark(marks)
	f, err := l.Finish()
	if err != nil {
		t.Fatal(err)
	}
	if got := Named(f, s.layout); len(got) != 1 || got[0] != s.layout.At(1) {
		t.Errorf("named %v, want %d: %s %q", got, s.layout.At(1), f.Sentence, f.Notes)
	}
}

// Misses of whichever cylinder, as with too little fuel, are counted too: as many
// cycles miss as have any firing missing. Law.
func TestMissesOfAllCylindersAreCounted(t *testing.T) {
	const chance = 0.12
	rng := rand.New(rand.NewPCG(4, 9))
	s := broken(t)
	s.work, s.seconds = []float64{1, 1, 1, 1}, 20
	countsMisses(t, s, func(position int) bool { return rng.Float64() < chance })
}

// Two firings that miss, each at random, make more cycles miss than either. Law.
func TestMissesOfTwoCylindersAreCounted(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 9))
	s := broken(t)
	s.work, s.seconds, s.slow = []float64{1, 1, 1, 1}, 20, 0.03
	countsMisses(t, s, func(position int) bool {
		return position == 1 && rng.Float64() < 0.35 || position == 2 && rng.Float64() < 0.2
	})
}

// countsMisses hears a sound with misses and compares the share of cycles in
// which any firing misses.
func countsMisses(t *testing.T, s synth, miss func(position int) bool) {
	t.Helper()
	var missed, cycles float64
	any := false
	s.miss = func(_, position int) bool {
		if position == 0 {
			if any {
				missed++
			}
			cycles, any = cycles+1, false
		}
		miss := miss(position)
		any = any || miss
		return miss
	}
	f := hear(t, s, s.sound())
	share := missed / cycles
	q, ok := f.Quantity(MissesQuantity)
	if f.Verdict != finding.Misfire || !ok || q.Low > share || q.High < share {
		t.Errorf("share %.2f: %s %+v", share, f.Sentence, q)
	}
}

// Cycles of another kind that come in one go count only where they last and the
// other firings sound on: an engine that runs down changes all of them.
func TestOneGoOfQuietCycles(t *testing.T) {
	for _, c := range []struct {
		goes, each int
		usual      float64
		want       bool
	}{{3, 2, 0.1, true}, {1, 40, 0.95, true}, {1, 40, 0.1, false}, {1, 8, 0.95, false}, {2, 3, 1, false}} {
		chance := make([]float64, 100)
		for g := range c.goes {
			for i := range c.each {
				chance[10+30*g+i] = 1
			}
		}
		if got := (kinds{chance: chance, usual: c.usual}).comesAndGoes(); got != c.want {
			t.Errorf("%d times %d cycles, %.2f of the other firings left: %v", c.goes, c.each, c.usual, got)
		}
	}
}
