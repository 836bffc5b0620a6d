package order

import (
	"math"
	"slices"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// filtered is what a microphone with one weak resonance and a fall of the bass
// makes of a sound: a second-order peak after a first-order high pass.
func filtered(x []float32, rate, bassHz, peakHz float64) []float32 {
	out := make([]float32, len(x))
	a := math.Exp(-2 * math.Pi * bassHz / rate)
	r, w := 0.97, 2*math.Pi*peakHz/rate
	var low, y1, y2 float64
	for i, v := range x {
		low = a*low + (1-a)*float64(v)
		y := 0.2*(float64(v)-low) + 2*r*math.Cos(w)*y1 - r*r*y2
		y2, y1 = y1, y
		out[i] = float32(y + float64(v) - low)
	}
	return out
}

// The path to the sensor is unknown: no filter turns a verdict round.
func TestSensorFilterTurnsNoVerdict(t *testing.T) {
	s := broken(t)
	healthy := s
	healthy.work = []float64{1.02, 0.97, 1, 1.03}
	for _, bass := range []float64{5, 60, 200} {
		for _, peak := range []float64{180, 900, 3000} {
			if f := hear(t, s, filtered(s.sound(), s.rate, bass, peak)); f.Verdict == finding.NoMisfire {
				t.Errorf("bass from %g Hz, peak at %g Hz: %s", bass, peak, f.Sentence)
			}
			if f := hear(t, healthy, filtered(healthy.sound(), s.rate, bass, peak)); f.Verdict == finding.Misfire {
				t.Errorf("healthy, bass from %g Hz, peak at %g Hz: %s", bass, peak, f.Sentence)
			}
		}
	}
}

// The same sound from an engine whose cylinders are numbered one place further
// along the firing order: the name turns with the numbers, all else stays.
func TestNumbersTurnWithTheFiringOrder(t *testing.T) {
	s := broken(t)
	x := s.sound()
	var marks []float64
	for at := 0.05; at < s.seconds; at += 120 / s.rpm { // 20° before the first position's burst
		marks = append(marks, at-20.0/720*120/s.rpm)
	}
	var before finding.Finding
	for i, text := range []string{"1-3-4-2", "2-1-3-4", "4-2-1-3", "3-4-2-1"} {
		layout := parse(t, text)
		l, err := NewListener(Config{Layout: layout, Marked: layout.At(0)}, s.rate)
		if err != nil {
			t.Fatal(err)
		}
		l.Write(x)
		l.AddMarks(marks)
		f, err := l.Finish()
		if err != nil {
			t.Fatal(err)
		}
		if named := Named(f, layout); !slices.Equal(named, []engine.Cylinder{layout.At(1)}) {
			t.Errorf("%s: named %v, want cylinder %d", text, named, layout.At(1))
		}
		if i > 0 {
			sameNumbers(t, before, f, 1e-9)
		}
		before = f
	}
}
