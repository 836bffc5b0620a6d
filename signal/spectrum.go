package signal

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// GoodLength is the next power of two: transforms of other lengths can be
// slower by orders of magnitude.
func GoodLength(n int) int {
	g := 1
	for g < n {
		g *= 2
	}
	return g
}

// Spectrum is a reusable plan for power spectra of windows of one length.
type Spectrum struct {
	fft    *fourier.FFT
	window []float64
	in     []float64
	out    []complex128
}

// NewSpectrum plans windows of n samples under a Hann window, padded with
// zeros to at least pad·n samples.
func NewSpectrum(n, pad int) *Spectrum {
	m := GoodLength(pad * n)
	s := &Spectrum{fft: fourier.NewFFT(m), window: Hann(n), in: make([]float64, m)}
	s.out = make([]complex128, m/2+1)
	return s
}

// Hann is the periodic raised-cosine window of n points.
func Hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
	}
	return w
}

// Len is the number of samples in a window.
func (s *Spectrum) Len() int { return len(s.window) }

// Bins is the number of power values, from rate 0 to half the sample rate.
func (s *Spectrum) Bins() int { return len(s.out) }

// BinHz is the distance of the power values at a sample rate.
func (s *Spectrum) BinHz(rate float64) float64 { return rate / float64(len(s.in)) }

// Power stores |X|² of x, its mean removed, into dst, which has Bins values.
// len(x) must be Len.
func (s *Spectrum) Power(dst []float64, x []float32) {
	mean := float64(Mean(x))
	for i, w := range s.window {
		s.in[i] = (float64(x[i]) - mean) * w
	}
	clear(s.in[len(s.window):])
	for i, c := range s.fft.Coefficients(s.out, s.in) {
		dst[i] = real(c)*real(c) + imag(c)*imag(c)
	}
}

// Mean of x, 0 when empty.
func Mean(x []float32) float32 {
	if len(x) == 0 {
		return 0
	}
	var sum float64
	for _, v := range x {
		sum += float64(v)
	}
	return float32(sum / float64(len(x)))
}

// LocalMean stores the mean of src over reach values to each side into dst;
// at the ends over what is there.
func LocalMean(dst, src []float64, reach int) {
	var sum float64
	lo, hi := 0, 0
	for i := range src {
		for ; hi < min(i+reach+1, len(src)); hi++ {
			sum += src[hi]
		}
		for ; lo < i-reach; lo++ {
			sum -= src[lo]
		}
		dst[i] = max(sum, 0) / float64(hi-lo)
	}
}
