package web

import "math"

// lower brings a stream to a lower sample rate: a windowed-sinc low pass, then
// every k-th sample. Rates at or below the wanted one pass unchanged.
type lower struct {
	out  float64 // Hz
	step int
	taps []float32
	tail []float32 // samples still under the filter
	skip int       // until the next output
}

// tapsPerStep gives about 60 dB of stop band with the Hann window used.
const tapsPerStep = 12

func newLower(rate, wanted float64) *lower {
	step := max(1, int(math.Floor(rate/wanted)))
	l := &lower{out: rate / float64(step), step: step}
	if step == 1 {
		return l
	}
	n := tapsPerStep*step + 1
	cut := 0.42 / float64(step) // of the input rate, a little below the new half
	var sum float64
	h := make([]float64, n)
	for i := range h {
		t := float64(i) - float64(n-1)/2
		h[i] = 2 * cut * sinc(2*cut*t) * (0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)))
		sum += h[i]
	}
	for _, v := range h {
		l.taps = append(l.taps, float32(v/sum))
	}
	return l
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// add appends to dst what x gives.
func (l *lower) add(dst, x []float32) []float32 {
	if l.step == 1 {
		return append(dst, x...)
	}
	l.tail = append(l.tail, x...)
	at := l.skip
	for ; at+len(l.taps) <= len(l.tail); at += l.step {
		var y float32
		for i, h := range l.taps {
			y += h * l.tail[at+i]
		}
		dst = append(dst, y)
	}
	used := min(at, len(l.tail))
	l.tail = l.tail[:copy(l.tail, l.tail[used:])]
	l.skip = at - used
	return dst
}
