package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func loudestOf(x []float32) (top float32) {
	for _, v := range x {
		top = max(top, v, -v)
	}
	return top
}

// unclipped writes in pieces of random length.
func unclipped(x []float32, rate float64, seed uint64) (out []float32) {
	u, r := NewUnclipper(rate), rand.New(rand.NewPCG(seed, 1))
	for len(x) > 0 {
		n := min(1+r.IntN(700), len(x))
		out = append(out, u.Write(x[:n], loudestOf(x[:n]))...)
		x = x[n:]
	}
	return append(out, u.Flush()...)
}

// tones are a bass with a weaker high tone on it.
func tones(rate float64) []float32 {
	x := make([]float32, int(rate))
	for i := range x {
		t := 2 * math.Pi * float64(i) / rate
		x[i] = float32(math.Sin(83*t) + 0.5*math.Sin(191*t+1) + 0.05*math.Sin(1900*t))
	}
	return x
}

func clip(x []float32, level float32) []float32 {
	out := slices.Clone(x)
	for i, v := range out {
		out[i] = min(max(v, -level), level)
	}
	return out
}

func errorOf(a, b []float32) float64 {
	sum := 0.0
	for i := range a {
		d := float64(a[i] - b[i])
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(a)))
}

// How much better it must get, here and below, is our own bound.
func TestFlatTopsAreRounded(t *testing.T) {
	const rate = 32000
	x := tones(rate)
	for _, level := range []float32{1.2, 0.9, 0.6} {
		y := clip(x, level)
		before, after := errorOf(x, y), errorOf(x, unclipped(y, rate, 1))
		if after > before/2 {
			t.Errorf("clipped at %g it is off by %.4f, mended by %.4f", level, before, after)
		}
	}
}

func TestABurstOfBothSignsIsBridged(t *testing.T) {
	x := tones(8000)
	y := slices.Clone(x)
	for k := range 6 {
		y[4000+k] = float32(2 * (1 - 2*(k%2)))
	}
	if before, after := errorOf(x, y), errorOf(x, unclipped(y, 8000, 1)); after > before/20 {
		t.Errorf("off by %.4f, bridged by %.4f", before, after)
	}
}

func TestSoundThatIsNotClippedStaysAsItIs(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float32, 20000)
	for i := range x {
		x[i] = float32(r.NormFloat64())
	}
	if y := unclipped(x, 48000, 3); !slices.Equal(x, y) {
		t.Error("noise without flat tops was changed")
	}
}

func TestPiecesDoNotMatter(t *testing.T) {
	x := clip(tones(16000), 0.7)
	want := unclipped(x, 16000, 1)
	if len(want) != len(x) {
		t.Fatalf("%d samples of %d", len(want), len(x))
	}
	for seed := range uint64(20) {
		if got := unclipped(x, 16000, seed); !slices.Equal(got, want) {
			t.Fatalf("pieces of seed %d change the result", seed)
		}
	}
}

func TestSilenceAndAStuckRecorderAreLeftAlone(t *testing.T) {
	for _, level := range []float32{0, 1, -1} {
		x := slices.Repeat([]float32{level}, 5000)
		if y := unclipped(x, 8000, 1); !slices.Equal(x, y) {
			t.Errorf("samples that are all %g were changed", level)
		}
	}
}

func TestOfAFlatTopOnlyAHundredthOfASecondIsHeldBack(t *testing.T) {
	const rate = 8000
	u := NewUnclipper(rate)
	got := 0
	for i := range rate {
		got += len(u.Write([]float32{1}, 1))
		if held := i + 1 - got; held > int(longestTop*rate)+1 {
			t.Fatalf("%d samples are held back", held)
		}
	}
}
