package signal

import "math"

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
	fft    *FFT
	window []float64
	in     []float64
	out    []complex128
}

// NewSpectrum plans windows of n samples under a Hann window, padded with
// zeros to at least pad·n samples.
func NewSpectrum(n, pad int) *Spectrum {
	m := GoodLength(pad * n)
	s := &Spectrum{fft: NewFFT(max(m, 4)), window: Hann(n), in: make([]float64, n)}
	s.out = make([]complex128, s.fft.Len()/2+1)
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
func (s *Spectrum) BinHz(rate float64) float64 { return rate / float64(s.fft.Len()) }

// Power stores |X|² of x, its mean removed, into dst, which has Bins values.
// len(x) must be Len.
func (s *Spectrum) Power(dst []float64, x []float32) {
	mean := float64(Mean(x))
	for i, w := range s.window {
		s.in[i] = (float64(x[i]) - mean) * w
	}
	for i, c := range s.fft.Coefficients(s.out, s.in) {
		dst[i] = real(c)*real(c) + imag(c)*imag(c)
	}
}

// Mean of x, 0 when empty.
func Mean(x []float32) float32 {
	if len(x) == 0 {
		return 0
	}
	var a, b float64 // neither waits for the other
	rest := x
	for ; len(rest) >= 2; rest = rest[2:] {
		a, b = a+float64(rest[0]), b+float64(rest[1])
	}
	if len(rest) == 1 {
		a += float64(rest[0])
	}
	return float32((a + b) / float64(len(x)))
}

// Whitened levels spectra so that lines stand out of noise of any colour alike:
// against what is near, and against what is farther.
type Whitened struct {
	Near, Far           []float32 // sums since Clear of the square root of each value over the mean about it
	nearReach, farReach int
	sums                []float64
}

// NewWhitened is for the first n values of spectra, and means of so many values
// to each side, fewer at the ends.
func NewWhitened(n, near, far int) *Whitened {
	return &Whitened{make([]float32, n), make([]float32, n), near, far, make([]float64, n+far+1)}
}

// Clear begins new sums.
func (w *Whitened) Clear() {
	clear(w.Near)
	clear(w.Far)
}

// Add takes a spectrum.
func (w *Whitened) Add(power []float64) {
	power = power[:min(len(power), len(w.sums)-1)]
	sums := w.sums[:len(power)+1]
	var sum float64
	for i, v := range power {
		sum += v
		sums[i+1] = sum
	}
	addWhitened(w.Near, power, sums, w.nearReach)
	addWhitened(w.Far, power, sums, w.farReach)
}

// addWhitened adds the square root of each value over the mean of those within
// reach.
func addWhitened(dst []float32, power, sums []float64, reach int) {
	inner := max(min(len(dst), len(power)-reach), 0)
	from := min(reach, inner)
	addWhitenedEnd(dst, power, sums, reach, 0, from)
	addWhitenedEnd(dst, power, sums, reach, inner, len(dst))
	if from == inner {
		return
	}
	width := float32(2*reach + 1)
	dst, power = dst[from:inner], power[from:inner]
	low, high := sums[:len(dst)], sums[2*reach+1:][:len(dst)]
	for i, v := range power[:len(dst)] {
		if sum := float32(high[i] - low[i]); sum > 0 {
			dst[i] += float32(math.Sqrt(float64(float32(v) * width / sum)))
		}
	}
}

// addWhitenedEnd does so where fewer values lie within reach.
func addWhitenedEnd(dst []float32, power, sums []float64, reach, from, to int) {
	for i := from; i < to; i++ {
		lo, hi := max(i-reach, 0), min(i+reach+1, len(power))
		if sum := float32(sums[hi] - sums[lo]); sum > 0 {
			dst[i] += float32(math.Sqrt(float64(float32(power[i]) * float32(hi-lo) / sum)))
		}
	}
}
