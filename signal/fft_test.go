package signal

import (
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

func noise(n int, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 0))
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	return x
}

// The library's transform is the outside value.
func TestFFTAgreesWithLibrary(t *testing.T) {
	for n := 4; n <= 4096; n *= 2 {
		x := noise(n, uint64(n))
		want := fourier.NewFFT(n).Coefficients(nil, x)
		got := NewFFT(n).Coefficients(make([]complex128, n/2+1), x)
		for k := range want {
			if cmplx.Abs(got[k]-want[k]) > 1e-12*float64(n) {
				t.Fatalf("length %d, coefficient %d: %v, want %v", n, k, got[k], want[k])
			}
		}
	}
}

func TestFFTPadsShortInput(t *testing.T) {
	f := NewFFT(16)
	for n := range 17 {
		x := noise(n, 1)
		got := f.Coefficients(make([]complex128, 9), x)
		want := NewFFT(16).Coefficients(make([]complex128, 9), append(x, make([]float64, 16-n)...))
		for k := range want {
			if got[k] != want[k] {
				t.Fatalf("%d values: coefficient %d is %v, padded by hand %v", n, k, got[k], want[k])
			}
		}
	}
}

func TestFFTRefusesOtherLengths(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a length of 12 was taken")
		}
	}()
	NewFFT(12)
}

func BenchmarkFFT(b *testing.B) {
	x, out := noise(2048, 2), make([]complex128, 1025)
	b.Run("own", func(b *testing.B) {
		f := NewFFT(len(x))
		for b.Loop() {
			f.Coefficients(out, x)
		}
	})
	b.Run("library", func(b *testing.B) {
		f := fourier.NewFFT(len(x))
		for b.Loop() {
			f.Coefficients(out, x)
		}
	})
}
