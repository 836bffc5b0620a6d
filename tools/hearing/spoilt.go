package main

import (
	"math"
	"math/rand/v2"
	"path/filepath"

	"halforder/measure/order"
	"halforder/signal"
)

// spoiler is what cheap microphones, loud bays and careless files do.
type spoiler struct {
	name string
	do   func(x []float32, rate float64) ([]float32, float64)
}

var spoilers = []spoiler{
	{"clipped at a quarter of the peak", func(x []float32, rate float64) ([]float32, float64) { return clipped(x, 0.25), rate }},
	{"clipped at a tenth of the peak", func(x []float32, rate float64) ([]float32, float64) { return clipped(x, 0.1), rate }},
	{"no bass below 150 Hz", func(x []float32, rate float64) ([]float32, float64) {
		return highPass(highPass(x, rate, 150), rate, 150), rate
	}},
	{"telephone band", func(x []float32, rate float64) ([]float32, float64) {
		y := highPass(highPass(x, rate, 300), rate, 300)
		return lowPass(lowPass(y, rate, 3400), rate, 3400), rate
	}},
	{"nothing above 500 Hz", func(x []float32, rate float64) ([]float32, float64) {
		return lowPass(lowPass(lowPass(x, rate, 500), rate, 500), rate, 500), rate
	}},
	{"gain control", func(x []float32, rate float64) ([]float32, float64) { return gained(x, rate, 0.15), rate }},
	{"a noisy bay", func(x []float32, rate float64) ([]float32, float64) { return noisy(x, 1), rate }},
	{"header says 9 % too fast", func(x []float32, rate float64) ([]float32, float64) { return x, rate * 48000 / 44100 }},
	{"header says half the rate", func(x []float32, rate float64) ([]float32, float64) { return x, rate / 2 }},
	{"in a hall", func(x []float32, rate float64) ([]float32, float64) { return echoing(x, rate), rate }},
}

// sweepSpoilt judges 10 s pieces of the real idle recordings through each
// spoiler.
func sweepSpoilt(folder string, t *table) error {
	files, _ := filepath.Glob(filepath.Join(folder, "idle_sound", "*.wav"))
	for _, file := range files {
		idle, err := loadIdle(file)
		if err != nil {
			return err
		}
		piece := int(10 * idle.rate)
		for _, s := range spoilers {
			for from := 0; from+piece <= len(idle.x); from += piece / 2 {
				y, rate := s.do(idle.x[from:from+piece], idle.rate)
				f, err := order.Analyse(signal.FromMemory(y), rate, order.Config{Layout: idle.layout})
				t.at(s.name+", "+idle.state).judge(f, err, idle.want)
			}
		}
	}
	return nil
}

func clipped(x []float32, share float32) []float32 {
	var top float32
	for _, v := range x {
		top = max(top, v, -v)
	}
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = min(max(v, -top*share), top*share)
	}
	return out
}

func lowPass(x []float32, rate, hz float64) []float32 {
	a, y := 1-math.Exp(-2*math.Pi*hz/rate), 0.0
	out := make([]float32, len(x))
	for i, v := range x {
		y += a * (float64(v) - y)
		out[i] = float32(y)
	}
	return out
}

func highPass(x []float32, rate, hz float64) []float32 {
	out := lowPass(x, rate, hz)
	for i, v := range x {
		out[i] = v - out[i]
	}
	return out
}

// gained levels the loudness over some seconds, up quickly and down slowly.
func gained(x []float32, rate, seconds float64) []float32 {
	out := make([]float32, len(x))
	level := 1e-3
	fall := math.Exp(-1 / rate / seconds)
	for i, v := range x {
		level = max(math.Abs(float64(v)), level*fall)
		out[i] = float32(0.3 * float64(v) / max(level, 1e-3))
	}
	return out
}

func noisy(x []float32, share float64) []float32 {
	var squares float64
	for _, v := range x {
		squares += float64(v) * float64(v)
	}
	rms := math.Sqrt(squares / float64(len(x)))
	rng := rand.New(rand.NewPCG(1, 2))
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = v + float32(share*rms*rng.NormFloat64())
	}
	return out
}

// echoing adds a tail of echoes that dies within a third of a second.
func echoing(x []float32, rate float64) []float32 {
	rng := rand.New(rand.NewPCG(3, 4))
	out := append([]float32(nil), x...)
	for range 24 {
		delay := rng.Float64() * 0.3
		gain := float32(0.7 * math.Exp(-delay/0.1) * (2*rng.Float64() - 1))
		for i, d := 0, int(delay*rate); i+d < len(x); i++ {
			out[i+d] += gain * x[i]
		}
	}
	return out
}
