package order

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/signal"
)

// broken is a four with the second firing dead, plainly audible.
func broken(t testing.TB) synth {
	return synth{layout: parse(t, "i4"), rate: 32000, rpm: 780, seconds: 12, work: []float64{1, 0, 1, 1}, spread: 0.05, noise: 0.1, seed: 7}
}

func hear(t testing.TB, s synth, x []float32) finding.Finding {
	t.Helper()
	f, err := Analyse(signal.FromMemory(x), s.rate, Config{Layout: s.layout})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestLayoutsHealthyAndWithOneDead(t *testing.T) {
	for _, name := range []string{"i3", "i4", "i5", "i6", "v6-odd", "v8-18436572"} {
		layout := parse(t, name)
		s := synth{layout: layout, rate: 32000, rpm: 750, seconds: 12, spread: 0.05, noise: 0.1, seed: 3}
		rng := rand.New(rand.NewPCG(11, 12))
		for range layout.N() { // natural spread 3 to 5 % (design)
			s.work = append(s.work, 1+0.04*rng.NormFloat64())
		}
		if f := hear(t, s, s.sound()); f.Verdict == finding.Misfire {
			t.Errorf("%s healthy: %s", name, f.Sentence)
		}
		s.work[1] = 0
		if f := hear(t, s, s.sound()); f.Verdict != finding.Misfire {
			t.Errorf("%s one dead: %s", name, f.Sentence)
		}
	}
}

// A companion pair leaves no half orders (methods: the trap of order 0.5).
func TestCompanionPairIsCaught(t *testing.T) {
	s := broken(t)
	s.work = []float64{1, 0, 1, 0}
	f := hear(t, s, s.sound())
	if q, _ := f.Quantity(SpeedQuantity); math.Abs(q.Value/s.rpm-1) > 0.01 {
		t.Errorf("speed %.0f, want %.0f", q.Value, s.rpm)
	}
	if f.Verdict != finding.Misfire {
		t.Error(f.Sentence)
	}
}

func TestScalingChangesNothing(t *testing.T) {
	s := broken(t)
	x := s.sound()
	want := hear(t, s, x)
	for i := range x {
		x[i] *= 1.0 / 64 // a power of two: no rounding
	}
	sameNumbers(t, want, hear(t, s, x), 1e-6)
}

func TestTimeShiftChangesLittle(t *testing.T) {
	s := broken(t)
	x := s.sound()
	want := hear(t, s, x)
	sameVerdict(t, want, hear(t, s, x[12345:]))
}

func TestSampleRateChangesLittle(t *testing.T) {
	s := broken(t)
	want := hear(t, s, s.sound())
	for _, rate := range []float64{16000, 44100, 48000} {
		s.rate = rate
		sameVerdict(t, want, hear(t, s, s.sound()))
	}
}

// Idle that wanders by 15 % within seven seconds is followed all the way.
func TestWanderingIdleIsFollowed(t *testing.T) {
	s := broken(t)
	s.wander = 0.15
	f := hear(t, s, s.sound())
	for _, series := range f.Series {
		if series.Title != "Engine speed" {
			continue
		}
		for i, at := range series.X {
			if at < windowSeconds/2 || at > s.seconds-windowSeconds {
				continue // the ends see half a window
			}
			want := s.rpm * (1 + s.wander*math.Sin(2*math.Pi*at/7))
			if math.Abs(series.Y[i]/want-1) > 0.03 {
				t.Errorf("at %.1f s %.0f rpm, want %.0f", at, series.Y[i], want)
			}
		}
		return
	}
	t.Error("no series of the speed")
}

func sameVerdict(t *testing.T, want, got finding.Finding) {
	t.Helper()
	if got.Verdict != want.Verdict {
		t.Errorf("verdict %q, was %q", got.Verdict, want.Verdict)
	}
	a, _ := want.Quantity(SpeedQuantity)
	b, _ := got.Quantity(SpeedQuantity)
	if math.Abs(a.Value/b.Value-1) > 0.01 {
		t.Errorf("speed %.1f, was %.1f", b.Value, a.Value)
	}
}

func sameNumbers(t *testing.T, want, got finding.Finding, tolerance float64) {
	t.Helper()
	sameVerdict(t, want, got)
	for i, q := range want.Quantities {
		if d := math.Abs(q.Value - got.Quantities[i].Value); d > tolerance*(1+math.Abs(q.Value)) {
			t.Errorf("%s: %g, was %g", q.Name, got.Quantities[i].Value, q.Value)
		}
	}
}

// Pieces of any size and a look in between give the same as one piece.
func TestStreamAndSnapshotGiveTheSame(t *testing.T) {
	s := broken(t)
	x := s.sound()
	want := hear(t, s, x)
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	l, err := NewListener(Config{Layout: s.layout}, s.rate)
	if err != nil {
		t.Fatal(err)
	}
	for rest := x; len(rest) > 0; {
		n := min(1+rng.IntN(9000), len(rest))
		l.Write(rest[:n])
		rest = rest[n:]
		if rng.IntN(10) == 0 {
			if _, err := l.Snapshot(); err != nil && len(x)-len(rest) > int(3*s.rate) {
				t.Fatalf("after %d samples: %v", len(x)-len(rest), err)
			}
		}
	}
	got, err := l.Finish()
	if err != nil {
		t.Fatal(err)
	}
	sameNumbers(t, want, got, 0)
}

func TestFirstVerdictWithinThreeSeconds(t *testing.T) {
	s := broken(t)
	l, err := NewListener(Config{Layout: s.layout}, s.rate)
	if err != nil {
		t.Fatal(err)
	}
	l.Write(s.sound()[:int(3*s.rate)])
	f, err := l.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := f.Quantity(ChanceQuantity); !ok {
		t.Errorf("after 3 s: %s", f.Sentence)
	}
}

func TestNoiseSilenceAndSpeechAccuseNobody(t *testing.T) {
	const rate = 32000
	rng := rand.New(rand.NewPCG(5, 6))
	noise := make([]float32, 12*rate)
	for i := range noise {
		noise[i] = float32(0.1 * rng.NormFloat64())
	}
	for _, name := range []string{"i3", "i4", "i6", "v8-18436572"} {
		for kind, x := range map[string][]float32{"noise": noise, "speech": speech(rate, 12, rng)} {
			f, err := Analyse(signal.FromMemory(x), rate, Config{Layout: parse(t, name)})
			var none *NoEngineError
			if err != nil && !errors.As(err, &none) {
				t.Errorf("%s in %s: %v", name, kind, err)
			}
			if err == nil && f.Verdict == finding.Misfire {
				t.Errorf("%s accused by %s: %s", name, kind, f.Sentence)
			}
		}
	}
	var silent *SilentError
	if _, err := Analyse(signal.FromMemory(make([]float32, 5*rate)), rate, Config{Layout: parse(t, "i4")}); !errors.As(err, &silent) {
		t.Errorf("silence: %v", err)
	}
}

// speech is four syllables a second of a voice that changes its pitch.
func speech(rate, seconds int, rng *rand.Rand) []float32 {
	x := make([]float32, rate*seconds)
	var phase, pitch, loud float64
	syllable := rate / 4
	for i := range x {
		if i%syllable == 0 {
			pitch, loud = 90+80*rng.Float64(), rng.Float64()
		}
		phase += 2 * math.Pi * pitch / float64(rate)
		var v float64
		for k := 1.0; k < 20; k++ {
			v += math.Sin(k*phase) / k
		}
		x[i] = float32(0.1*loud*v*math.Sin(math.Pi*float64(i%syllable)/float64(syllable)) + 0.005*rng.NormFloat64())
	}
	return x
}

func TestTypedErrors(t *testing.T) {
	s := broken(t)
	x := s.sound()
	var short *TooShortError
	if _, err := Analyse(signal.FromMemory(x[:8000]), s.rate, Config{Layout: s.layout}); !errors.As(err, &short) {
		t.Errorf("a quarter of a second: %v", err)
	}
	loud := make([]float32, len(x))
	for i, v := range x {
		loud[i] = float32(math.Copysign(1, float64(v)))
	}
	var clipped *ClippedError
	if _, err := Analyse(signal.FromMemory(loud), s.rate, Config{Layout: s.layout}); !errors.As(err, &clipped) {
		t.Errorf("all at full scale: %v", err)
	}
	if _, err := NewListener(Config{}, 44100); err == nil {
		t.Error("no engine accepted")
	}
	if _, err := NewListener(Config{Layout: s.layout, Cuts: []Cut{{9, 1, 2}}}, 44100); err == nil {
		t.Error("a cut of cylinder 9 of 4 accepted")
	}
}

// One cut names the dead cylinder whatever it is called: the numbering may turn.
func TestOneCutNamesTheDeadOne(t *testing.T) {
	layout := parse(t, "1-5-3-6-2-4")
	s := synth{layout: layout, rate: 32000, rpm: 720, seconds: 20, work: []float64{1, 1, 1, 0, 1, 1}, spread: 0.05, noise: 0.1, seed: 4}
	cut := 1                                                                                         // position in the firing order
	s.miss = func(cycle, position int) bool { return position == cut && cycle >= 72 && cycle < 108 } // 12 s to 18 s
	x := s.sound()
	for _, order := range []string{"1-5-3-6-2-4", "5-3-6-2-4-1", "6-5-4-3-2-1"} {
		renamed := parse(t, order)
		l, err := NewListener(Config{Layout: renamed, Cuts: []Cut{{renamed.At(cut), 12, 18}}}, s.rate)
		if err != nil {
			t.Fatal(err)
		}
		l.Write(x)
		f, err := l.Finish()
		if err != nil {
			t.Fatal(err)
		}
		if err := f.Likelihood.Check(6); err != nil {
			t.Fatal(err)
		}
		for _, s := range suspicions(f.Likelihood, renamed) {
			if dead := s.cylinder == renamed.At(3); dead != (s.dead > nameChance) {
				t.Errorf("%s: cylinder %d dead with %.2f: %s", order, s.cylinder, s.dead, f.Sentence)
			}
		}
	}
}

func TestParseCut(t *testing.T) {
	c, err := ParseCut("3@12-17.5")
	if err != nil || c != (Cut{engine.Cylinder(3), 12, 17.5}) {
		t.Errorf("got %v, %v", c, err)
	}
	for _, bad := range []string{"", "3", "3@5", "x@1-2", "3@5-4", "3@-1-4", "3@1-NaN"} {
		if _, err := ParseCut(bad); err == nil {
			t.Errorf("%q accepted", bad)
		}
	}
}
