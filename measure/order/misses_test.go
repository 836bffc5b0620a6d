package order

import (
	"math/rand/v2"
	"testing"

	"halforder/finding"
)

// A share of cycles that miss at random is counted within its interval.
func TestMissesAreCounted(t *testing.T) {
	for _, share := range []float64{0.15, 0.4} {
		rng := rand.New(rand.NewPCG(9, 9))
		s := broken(t)
		s.work, s.seconds = []float64{1, 1, 1, 1}, 20
		s.miss = func(_, position int) bool { return position == 2 && rng.Float64() < share }
		f := hear(t, s, s.sound())
		q, ok := f.Quantity(MissesQuantity)
		if f.Verdict != finding.Misfire || !ok || q.Low > share || q.High < share {
			t.Errorf("share %.2f: %s %+v", share, f.Sentence, q)
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
