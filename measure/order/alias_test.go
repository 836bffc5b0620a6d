package order

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/signal"
)

// A healthy engine must not pass for one that turns k times as fast on every
// k-th firing, even when the tracker was led there. Law; the sounds differ in
// nothing but the spread of the firings.
func TestAHealthyEngineIsNotAFastOneOnFewFirings(t *testing.T) {
	for _, c := range []struct {
		layout string
		factor float64
	}{{"i4", 2}, {"i4", 4}, {"i5", 5}, {"i6", 2}, {"i6", 3}, {"v8-18436572", 2}} {
		t.Run(fmt.Sprintf("%s times %g", c.layout, c.factor), func(t *testing.T) {
			s := healthySynth(t, c.layout, 690)
			l, err := NewListener(Config{Layout: s.layout}, s.rate)
			if err != nil {
				t.Fatal(err)
			}
			l.start(engine.RPM(690*c.factor), l.window)
			l.Write(s.sound())
			f, err := l.Finish()
			if err != nil {
				t.Fatal(err)
			}
			if f.Verdict == finding.Misfire {
				t.Errorf("accused: %s", f.Sentence)
			}
			if q := f.Quantities[0]; math.Abs(q.Value/690-1) > 0.02 {
				t.Errorf("speed %.0f, true 690", q.Value)
			}
		})
	}
}

// A four on every other firing at a usual idle sounds like a whole one at half
// of it, slower than engines idle: nobody may call it healthy. Law.
func TestThePairThatIsGoneAtIdleIsNoSlowHealthyEngine(t *testing.T) {
	s := healthySynth(t, "i4", 930)
	s.work = []float64{1, 0, 1, 0}
	f := hear(t, s, s.sound())
	if f.Verdict == finding.NoMisfire {
		t.Errorf("two of four gone at 930 rpm: %s", f.Sentence)
	}
	if q, _ := f.Quantity(ChanceQuantity); f.Verdict == finding.CannotTell && q.Value < 0.4 {
		t.Errorf("chance of a misfire %.2f where nobody can tell", q.Value)
	}
}

// Where the speed is typed, half of the cylinders gone is what it is.
func TestATypedSpeedKeepsThePairThatIsGone(t *testing.T) {
	s := healthySynth(t, "i4", 1400)
	s.work = []float64{1, 0, 1, 0}
	f, err := Analyse(signal.FromMemory(s.sound()), s.rate, Config{Layout: s.layout, Speed: 1400})
	if err != nil {
		t.Fatal(err)
	}
	if f.Verdict != finding.Misfire {
		t.Errorf("two of four gone at a typed 1400 rpm: %s", f.Sentence)
	}
}

// One of three gone at three times an idle sounds like a whole three at idle with
// long pulses: nobody may accuse it, until the speed is typed. Law.
func TestAThreeAtThreeTimesItsIdleNeedsItsSpeed(t *testing.T) {
	s := healthySynth(t, "i3", 2500)
	s.work = []float64{1, 0, 1}
	if f := hear(t, s, s.sound()); f.Verdict != finding.CannotTell {
		t.Errorf("one of three gone at 2500 rpm, or a whole three at 833: %s", f.Sentence)
	}
	f, err := Analyse(signal.FromMemory(s.sound()), s.rate, Config{Layout: s.layout, Speed: 2500})
	if err != nil {
		t.Fatal(err)
	}
	if f.Verdict != finding.Misfire {
		t.Errorf("one of three gone at a typed 2500 rpm: %s", f.Sentence)
	}
}

func healthySynth(t *testing.T, layout string, rpm float64) synth {
	t.Helper()
	s := synth{layout: parse(t, layout), rate: 16000, rpm: rpm, seconds: 16, spread: 0.1, wander: 0.01, noise: 0.3, seed: 5}
	for range s.layout.N() {
		s.work = append(s.work, 1)
	}
	return s
}

// An echo after half of a firing silences every other order, as in an engine that
// turns twice as fast. Its cycles differ in turn, which proves that they are halves.
func TestAnEchoBetweenTheFiringsIsNoFasterEngine(t *testing.T) {
	s := healthySynth(t, "i4", 690)
	s.work, s.spread, s.noise = []float64{1, 0.8, 1.1, 0.85}, 0.04, 0.1
	x := s.sound()
	delay := int(s.rate * 120 / 690 / 8)
	for i := len(x) - 1; i >= delay; i-- {
		x[i] = (x[i] + x[i-delay]) / 2
	}
	f := hear(t, s, x)
	if q := f.Quantities[0]; math.Abs(q.Value/690-1) > 0.02 {
		t.Errorf("speed %.0f, true 690: %s", q.Value, f.Sentence)
	}
}

// A jump to twice the speed is noticed when the speed was long found: cycles that
// differ in turn are halves. Cycles that miss at random are none.
func TestALateJumpIsToldFromMissesAtRandom(t *testing.T) {
	heardBy := func(strength func(i int) float64) (int, engine.RPM) {
		l, err := NewListener(Config{Layout: parse(t, "i4")}, 16000)
		if err != nil {
			t.Fatal(err)
		}
		l.checked = octaveLast
		rng := rand.New(rand.NewPCG(3, 3))
		for i := range 130 {
			c := cycle{hz: 11.5, phasors: make([]complex64, l.lock.bands*l.lock.harmonics)}
			for k := range c.phasors {
				c.phasors[k] = complex64(complex(strength(i)+0.1*rng.NormFloat64(), 0.1*rng.NormFloat64()))
			}
			l.heard.cycles = append(l.heard.cycles, c)
			l.heard.total.add(c)
		}
		return l.partOfCycle(false)
	}
	if part, speed := heardBy(func(i int) float64 { return 1 + 0.2*float64(i%2) }); part != 2 || math.Abs(float64(speed)/1380-1) > 0.01 {
		t.Errorf("cycles that differ in turn: one of %d at %.0f rpm, want a half at 1380", part, speed)
	}
	for seed := range uint64(100) {
		rng := rand.New(rand.NewPCG(seed, 4))
		if part, _ := heardBy(func(int) float64 { return float64(rng.IntN(2)) }); part != 1 {
			t.Errorf("misses at random, seed %d: taken for one of %d", seed, part)
		}
	}
}

// A refuted speed is hardly likely, its half as likely as before.
func TestRefutedSpeedsAreHardlyLikely(t *testing.T) {
	c, plain := newComb(parse(t, "i4"), 1000, 700, 1000, 1), newComb(parse(t, "i4"), 1000, 700, 1000, 1)
	c.refute(1400)
	for k, hz := range c.hz {
		less, n := plain.prior[k]-c.prior[k], float64(engine.FromCycleHz(hz))
		if math.Abs(n/1400-1) < 0.05 && less < 0.9*jumpCost || math.Abs(n/700-1) < 0.1 && less > 0.1 {
			t.Errorf("%.0f rpm is %.1f less likely", n, less)
		}
	}
}
