package order

import (
	"math"
	"math/cmplx"
)

// ratio is the neighbour ratio of the low band: the root mean square of the
// orders a healthy engine does not have, over that of those it has.
type ratio struct {
	value float64 // 0 when nothing is known
	err   float64 // of its logarithm
	path  prior   // how unequal the paths may be
	rests prior   // what stays of a dead cylinder
}

const (
	ratioFirings = 4   // firing orders looked at
	ratioSpread  = 0.4 // spread of the logarithm from the unknown path: it is pooled over many orders
	naturalLine  = 0.5 // share of full strength from which a line counts as natural
)

// neighbourRatio measures it on the folded low band, clicks cut.
func (f *folded) neighbourRatio() ratio {
	p, mean, layout := f.bands[0], f.low(), f.layout
	var on, off, onNoise, offNoise, onCount, offCount float64
	for h := 1; h <= min(ratioFirings*layout.N()+layout.N()/2, len(mean)); h++ {
		if p.noise[h-1] == 0 {
			break // out of reach
		}
		if h == turnHarmonic && layout.N() > 2 {
			continue
		}
		if absPhasor(layout, h) >= naturalLine*float64(layout.N()) {
			on, onNoise, onCount = on+sq(mean[h-1]), onNoise+p.noise[h-1], onCount+1
		} else if absPhasor(layout, h) < 1e-6 {
			off, offNoise, offCount = off+sq(mean[h-1]), offNoise+p.noise[h-1], offCount+1
		}
	}
	if onCount == 0 || offCount == 0 || on < 4*onNoise {
		return ratio{path: lowPath, rests: pulseRest}
	}
	clear := max(off-offNoise, 0.2*offNoise)
	return ratio{
		path:  lowPath,
		rests: pulseRest,
		value: math.Sqrt(clear / offCount / ((on - onNoise) / onCount)),
		err:   math.Hypot(onNoise/on, offNoise/clear/2),
	}
}

// expected is the ratio of a pattern of work through equal paths.
func expectedRatio(work []float64) float64 {
	n := len(work)
	var off, on float64
	for h := 1; h < n; h++ {
		off += sq(evenPhasor(work, h))
	}
	on = sq(evenPhasor(work, 0))
	if n < 2 || on == 0 {
		return 0
	}
	return math.Sqrt(off / float64(n-1) / on)
}

func evenPhasor(work []float64, h int) complex128 {
	var sum complex128
	for k, w := range work {
		sum += complex(w, 0) * cmplx.Rect(1, -2*math.Pi*float64(h*k)/float64(len(work)))
	}
	return sum
}

// misshapen is how much more of the orders a dead cylinder makes than one that
// is just absent: it still pumps, and out of step. Judgement (prior).
var misshapen = prior{{1, 0.5}, {2, 0.3}, {3, 0.2}}

// logLikelihoods of the measured ratio when firing k works with share work[k],
// one for each value of pulseRest. Unequal paths add their own part.
func (r ratio) logLikelihoods(work []float64) []float64 {
	out := make([]float64, len(r.rests))
	if r.value == 0 {
		return out
	}
	n := float64(len(work))
	spread := math.Hypot(ratioSpread, r.err)
	value := max(r.value, r.path[0].value/math.Sqrt(n)) // more even than that counts no more
	heard := make([]float64, len(work))
	for i, rest := range r.rests {
		for k, w := range work {
			heard[k] = rest.value + (1-rest.value)*w
		}
		missing := expectedRatio(heard)
		sum := math.Inf(-1)
		for _, s := range r.path {
			for _, shape := range misshapen {
				z := math.Log(value/math.Hypot(missing*shape.value, s.value/math.Sqrt(n))) / spread
				sum = logAdd(sum, math.Log(s.weight*shape.weight)-z*z/2)
			}
		}
		out[i] = logAdd(sum+math.Log(1-stray), math.Log(stray))
	}
	return out
}
