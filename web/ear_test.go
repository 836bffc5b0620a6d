package web

import (
	"math"
	"strings"
	"syscall"
	"testing"
	"time"

	"halforder/engine"
	"halforder/practice"
	"halforder/web/take"
)

// runningFour is a practice four with faults.
func runningFour(t testing.TB, faults ...string) (practice.Config, engine.Layout) {
	t.Helper()
	layout, err := engine.Parse("i4")
	if err != nil {
		t.Fatal(err)
	}
	cfg := practice.Defaults(layout)
	cfg.Running = true
	for _, text := range faults {
		f, err := practice.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	return cfg, layout
}

func practiceFour(t testing.TB, seconds float64, faults ...string) ([]float32, engine.Layout) {
	t.Helper()
	cfg, layout := runningFour(t, faults...)
	rec, _, err := practice.Run(cfg, practice.Watch(seconds), practice.Sensors{Sound: &practice.SoundSensor{Hz: 48000}})
	if err != nil {
		t.Fatal(err)
	}
	return rec.Sound.X, layout
}

// quietEar is an ear that judges only when asked.
func quietEar(layout engine.Layout) *ear {
	return &ear{hearing: &hearing{layout: layout, wake: make(chan struct{}, 1)}, lower: newLower(48000, liveRate), rolling: rolling{layout: layout, rate: liveRate}}
}

func TestEarHearsTheLastSeconds(t *testing.T) {
	x, layout := practiceFour(t, 12, "coil-open@3")
	e := quietEar(layout)
	for at := 0; at+4800 <= len(x); at += 4800 {
		e.hear(x[at:at+4800], uint64(at+4800), false)
		if at/4800%3 == 2 {
			e.judge()
		}
	}
	m, ok := e.judge()
	if m.Over < rollSeconds || m.Over > 2*rollSeconds+0.5 {
		t.Errorf("judged over %.1f s", m.Over)
	}
	if !ok || math.Abs(m.RPM-750) > 60 || m.Missing == nil || m.Missing.Value < 0.5 || m.Samples != uint64(len(x)/4800*4800) {
		t.Errorf("heard %+v", m)
	}
	if got := float64(len(e.ring)) / e.lower.out; got > ringSeconds+0.1 {
		t.Errorf("%g s are kept, want %g", got, ringSeconds)
	}
}

func TestEarForgetsAcrossAGap(t *testing.T) {
	e := quietEar(engine.Layout{})
	e.hear(make([]float32, 48000), 48000, false)
	e.hear(make([]float32, 4800), 100000, true)
	if got := len(e.ring); got > 1300 {
		t.Errorf("%d samples from before the gap are heard together with those after it", got)
	}
}

// A low pass that kept what it must not would fold a whistle into the bass:
// tones above the new half rate must fall by 40 dB, tones below stay within
// 1 dB. Textbook bounds for a windowed sinc of 12 periods.
func TestLowerKeepsTheBassAndDropsTheRest(t *testing.T) {
	for hz, want := range map[float64]float64{30: 1, 200: 1, 2000: 1, 4000: 1, 8000: 0.01, 11900: 0.01, 20000: 0.01} {
		l := newLower(48000, liveRate)
		var in []float32
		for i := range 48000 {
			in = append(in, float32(math.Sin(2*math.Pi*hz*float64(i)/48000)))
		}
		var out []float32
		for at := 0; at < len(in); at += 777 { // pieces of any size
			out = l.add(out, in[at:min(at+777, len(in))])
		}
		var sum float64
		for _, v := range out[200:] {
			sum += float64(v) * float64(v)
		}
		got := math.Sqrt(2 * sum / float64(len(out)-200))
		if want == 1 && math.Abs(got-1) > 0.12 || want < 1 && got > want {
			t.Errorf("%g Hz comes through as %.4f, want %g", hz, got, want)
		}
	}
}

func TestPlainName(t *testing.T) {
	for in, want := range map[string]string{"../../etc/passwd": "passwd", `C:\x\y.wav`: "y.wav", "...": "file", "a\x00b\n.wav": "ab.wav", "": "file", ".hidden": "hidden"} {
		if got := plainName(in); got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
	}
	if got := plainName(strings.Repeat("ü", 500)); len([]rune(got)) != 80 {
		t.Errorf("%d characters", len([]rune(got)))
	}
}

// cpu is the processor time this process has used, in seconds.
func cpu() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	s := func(v syscall.Timeval) float64 { return float64(v.Sec) + float64(v.Usec)/1e6 }
	return s(u.Utime) + s(u.Stime)
}

// BenchmarkLiveJudgement is what one update of the live meters costs.
func BenchmarkLiveJudgement(b *testing.B) {
	x, layout := practiceFour(b, 30, "coil-open@3")
	e := quietEar(layout)
	const step = 48000 / 5
	b.ResetTimer()
	began := cpu()
	for i := range b.N {
		at := i * step % (len(x) - step)
		e.hear(x[at:at+step], uint64(at+step), false)
		e.judge()
	}
	b.ReportMetric(1000*(cpu()-began)/float64(b.N), "cpu-ms/op")
}

// BenchmarkPhoneSecond is what a second of one phone costs without judgement:
// ten pieces stored, brought to the lower rate, measured.
func BenchmarkPhoneSecond(b *testing.B) {
	x, layout := practiceFour(b, 2)
	e := quietEar(layout)
	store, err := take.Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	t, err := store.Begin(take.Head{Key: "bench-key", Sensor: take.Sound, RateHz: 48000, Began: time.Now()})
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	began := cpu()
	for i := range b.N {
		for k := range 10 {
			n := uint64(10*i + k)
			data := take.PCM(x[k*4800 : (k+1)*4800])
			if _, _, err := t.Append(take.Chunk{Seq: uint32(n), First: n * 4800, Data: data}); err != nil {
				b.Fatal(err)
			}
			e.hear(take.Samples(data), (n+1)*4800, false)
			e.loud()
		}
	}
	b.ReportMetric(1000*(cpu()-began)/float64(b.N), "cpu-ms/op")
}
