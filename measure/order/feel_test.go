package order

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"halforder/finding"
)

// rocking is an engine block of four cylinders on its mounts, felt by a sensor
// that lies at an odd angle: the torque of each firing at order 2 and its
// harmonics, gravity, noise, jittering time stamps.
func rocking(work []float64, hz float64, rng *rand.Rand) []Shake {
	const rpm, seconds = 760.0, 20.0
	n := len(work)
	var out []Shake
	for t := 0.0; t < seconds; t += 1 / hz * (1 + 0.1*rng.NormFloat64()) {
		cycle := t * rpm / 120
		var a float64
		for h := 1; h <= 2*n; h++ { // 1/h: torque through inertia
			for k, w := range work {
				a += w * math.Cos(2*math.Pi*float64(h)*(cycle-float64(k)/float64(n))) / float64(h)
			}
		}
		s := Shake{Seconds: t}
		for i, d := range []float64{0.6, -0.64, 0.48} {
			s.Axes[i] = d*a + 9.81*[]float64{0.8, 0.6, 0}[i] + 0.05*rng.NormFloat64()
		}
		out = append(out, s)
	}
	return out
}

func TestFeelTellsADeadCylinder(t *testing.T) {
	for _, hz := range []float64{100, 200, 400} {
		rng := rand.New(rand.NewPCG(1, uint64(hz)))
		for _, c := range []struct {
			work []float64
			want finding.Verdict
		}{{[]float64{1, 1.03, 0.97, 1.02}, finding.NoMisfire}, {[]float64{1, 0, 1, 1}, finding.Misfire}} {
			f, err := Feel(rocking(c.work, hz, rng), Config{Layout: parse(t, "i4")})
			var none *NoEngineError
			if errors.As(err, &none) && hz < 200 {
				continue // few orders are within reach: no answer is allowed, a wrong one is not
			}
			if err != nil {
				t.Errorf("%g Hz, %v: %v", hz, c.work, err)
				continue
			}
			if f.Verdict != c.want {
				t.Errorf("%g Hz, %v: %s %v", hz, c.work, f.Sentence, f.Quantities)
			}
			if !strings.Contains(strings.Join(f.Notes, " "), "out of reach") {
				t.Errorf("%g Hz: no word of the orders out of reach in %q", hz, f.Notes)
			}
		}
	}
}

// Doubled lines, disorder and a gap leave the verdict as it is.
func TestFeelTakesUntidyTimes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	shakes := rocking([]float64{1, 0, 1, 1}, 200, rng)
	shakes = append(shakes[:len(shakes)/4], shakes[len(shakes)/4+200:]...)
	shakes = append(shakes, shakes[len(shakes)/2:]...)
	rng.Shuffle(len(shakes), func(a, b int) { shakes[a], shakes[b] = shakes[b], shakes[a] })
	f, err := Feel(shakes, Config{Layout: parse(t, "i4")})
	if err != nil {
		t.Fatal(err)
	}
	if f.Verdict != finding.Misfire || !strings.Contains(strings.Join(f.Notes, " "), "gap") {
		t.Errorf("%s %q", f.Sentence, f.Notes)
	}
}

func TestFeelRefusesNonsense(t *testing.T) {
	layout := parse(t, "i4")
	for name, shakes := range map[string][]Shake{
		"nothing":  nil,
		"one":      {{}},
		"NaN":      {{Seconds: 1}, {Seconds: math.NaN()}},
		"too slow": rocking([]float64{1, 1, 1, 1}, 8, rand.New(rand.NewPCG(1, 1))),
	} {
		if _, err := Feel(shakes, Config{Layout: layout}); err == nil {
			t.Errorf("%s accepted", name)
		}
	}
}

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
