package order

import "math"

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

// expectedRatio is the ratio of a pattern of work through equal paths. By
// Parseval's theorem the squares of all orders are n times those of the work.
func expectedRatio(work []float64) float64 {
	n, sum, squares := float64(len(work)), 0.0, 0.0
	for _, w := range work {
		sum, squares = sum+w, squares+w*w
	}
	if n < 2 || sum == 0 {
		return 0
	}
	return math.Sqrt(max(n*squares-sum*sum, 0)/(n-1)) / math.Abs(sum)
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
	root := math.Sqrt(float64(len(work)))
	spread := math.Hypot(ratioSpread, r.err)
	value := max(r.value, r.path[0].value/root) // more even than that counts no more
	heard := make([]float64, len(work))
	for i, rest := range r.rests {
		for k, w := range work {
			heard[k] = rest.value + (1-rest.value)*w
		}
		missing, likely := expectedRatio(heard), 0.0
		for _, s := range r.path {
			for _, shape := range misshapen {
				a, b := missing*shape.value, s.value/root
				z := math.Log(value*value/(a*a+b*b)) / 2 / spread
				likely += s.weight * shape.weight * math.Exp(-z*z/2)
			}
		}
		out[i] = math.Log(likely*(1-stray) + stray)
	}
	return out
}
