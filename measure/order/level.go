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

// block is how many samples are summed in single precision.
const block = 1024

// add gives the size of the loudest sample.
func (v *level) add(x []float32) (loudest float32) {
	v.samples += int64(len(x))
	for len(x) > 0 {
		n := min(len(x), block)
		loudest = max(loudest, v.addBlock(x[:n]))
		x = x[n:]
	}
	return loudest
}

// addBlock looks for flat tops only in blocks that reach the loudest level.
func (v *level) addBlock(x []float32) (loudest float32) {
	var a, b, c, d float32 // none waits for another
	var top0, top1 uint32
	rest := x
	for ; len(rest) >= 4; rest = rest[4:] {
		s := (*[4]float32)(rest)
		a, b, c, d = a+s[0]*s[0], b+s[1]*s[1], c+s[2]*s[2], d+s[3]*s[3]
		top0, top1 = max(top0, size(s[0]), size(s[2])), max(top1, size(s[1]), size(s[3]))
	}
	for _, s := range rest {
		a, top0 = a+s*s, max(top0, size(s))
	}
	v.squares += float64(a + b + (c + d))
	loudest = math.Float32frombits(max(top0, top1))
	if loudest >= v.top {
		v.countFlat(x, loudest)
	}
	v.last = x[len(x)-1]
	return loudest
}

// size is a number that orders samples by size: their bits without the sign.
func size(s float32) uint32 { return math.Float32bits(s) &^ (1 << 31) }

// countFlat counts the samples at the loudest level that repeat the one before.
func (v *level) countFlat(x []float32, top float32) {
	if top > v.top {
		v.top, v.flat = top, 0
	}
	last := v.last
	for _, s := range x {
		if s == last && max(s, -s) == v.top {
			v.flat++
		}
		last = s
	}
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
