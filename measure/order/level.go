package order

import "math"

// level watches the samples themselves: silence and clipping.
type level struct {
	rate    float64
	samples int64
	squares float64
	top     float32
	flat    int64 // samples that repeat the one before at the loudest level so far
	last    float32
}

func (v *level) add(x []float32) {
	v.samples += int64(len(x))
	var squares float32
	top, last, flat := v.top, v.last, v.flat
	for i, s := range x {
		squares += s * s
		a := max(s, -s)
		if a > top {
			top, flat = a, 0
		}
		if a == top && s == last {
			flat++
		}
		last = s
		if i&1023 == 1023 {
			v.squares += float64(squares)
			squares = 0
		}
	}
	v.squares += float64(squares)
	v.top, v.last, v.flat = top, last, flat
}

func (v *level) seconds() float64 { return float64(v.samples) / v.rate }

func (v *level) rms() float64 { return math.Sqrt(v.squares / max(float64(v.samples), 1)) }

// clipped is the share of samples stuck at full scale.
func (v *level) clipped() float64 { return float64(v.flat) / max(float64(v.samples), 1) }

const (
	silentRMS    = 1e-5 // about a third of a step of 16 bit PCM
	clippedLimit = 0.50
	clippedNote  = 0.002
)

func (v *level) check() error {
	switch {
	case v.samples == 0 || v.seconds() < shortestSeconds:
		return &TooShortError{v.seconds(), 1}
	case v.rms() < silentRMS:
		return &SilentError{v.rms()}
	case v.clipped() > clippedLimit:
		return &ClippedError{v.clipped()}
	}
	return nil
}
