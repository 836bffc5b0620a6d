package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

func tone(rate, hz float64, n int) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(math.Sin(2 * math.Pi * hz * float64(i) / rate))
	}
	return x
}

func rms(x []float32) float64 {
	var s float64
	for _, v := range x {
		s += float64(v) * float64(v)
	}
	return math.Sqrt(s / float64(len(x)))
}

func framesOf(t testing.TB, rate float64, x []float32) Frames {
	t.Helper()
	b, err := NewBank(rate)
	if err != nil {
		t.Fatal(err)
	}
	b.Write(x)
	return b.Frames()
}

// A sine of amplitude 1 has rms 1/√2 in the band it lies in, by definition,
// and next to nothing in the others.
func TestBankSortsTonesIntoBands(t *testing.T) {
	const rate = 48000
	for _, hz := range []float64{100, 400, 4300, 9000, 18000} {
		f := framesOf(t, rate, tone(rate, hz, rate))
		for i, band := range f.Bands {
			got := rms(f.Rows[i][50:])
			inside := hz > band.LowHz && hz < band.HighHz
			if inside && math.Abs(got-math.Sqrt2/2) > 0.06 { // the skirt of the filter
				t.Errorf("%g Hz in band %v: rms %.3f, want 0.707", hz, band, got)
			}
			if !inside && got > 0.06 {
				t.Errorf("%g Hz leaks into band %v: rms %.3f", hz, band, got)
			}
		}
	}
}

// Law: the size of the pieces changes nothing.
func TestBankPiecesGiveTheSame(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([]float32, 20000)
	for i := range x {
		x[i] = float32(rng.NormFloat64())
	}
	want := framesOf(t, 44100, x)
	b, err := NewBank(44100)
	if err != nil {
		t.Fatal(err)
	}
	for rest := x; len(rest) > 0; {
		n := min(1+rng.IntN(700), len(rest))
		b.Write(rest[:n])
		rest = rest[n:]
	}
	got := b.Frames()
	if got.Len() != want.Len() {
		t.Fatalf("%d frames, in one piece %d", got.Len(), want.Len())
	}
	for i := range want.Rows {
		for j := range want.Rows[i] {
			if got.Rows[i][j] != want.Rows[i][j] {
				t.Fatalf("row %d frame %d: %g, in one piece %g", i, j, got.Rows[i][j], want.Rows[i][j])
			}
		}
	}
}

func TestBankRefusesImpossibleRates(t *testing.T) {
	for _, rate := range []float64{0, -1, 19, 2e6, math.NaN(), math.Inf(1)} {
		if _, err := NewBank(rate); err == nil {
			t.Errorf("rate %g accepted", rate)
		}
	}
}

func TestBankFrameRateStaysInItsOctave(t *testing.T) {
	for _, rate := range []float64{8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000, 192000} {
		b, err := NewBank(rate)
		if err != nil {
			t.Fatal(err)
		}
		if r := b.FrameRate(); r < FrameRateMin || r >= 2*FrameRateMin {
			t.Errorf("%g Hz: frames at %g Hz", rate, r)
		}
	}
}

func BenchmarkBank(b *testing.B) {
	const rate = 48000
	x := tone(rate, 1000, rate)
	bank, err := NewBank(rate)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(4 * len(x)))
	for b.Loop() {
		bank.Write(x)
		bank.Discard(bank.Frames().Len())
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/rate, "ns/sample")
}
