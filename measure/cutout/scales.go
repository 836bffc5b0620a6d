package cutout

import (
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// The effect of a healthy cylinder is looked for in so many coarse steps, and then,
// where a channel has it, in steps of fineScale, natural logarithm: half of what
// healthy ones differ by. What is less likely than unlikely, natural logarithm, is
// left out.
const (
	coarseScales = 48
	fineScale    = healthySpread / 2
	unlikely     = -12.0
)

// narrowed is the channel with its scales where its effects have them, and fine.
func (ch channel) narrowed(l engine.Layout, cuts []Cut, patterns []finding.Pattern, prior []float64) channel {
	if len(ch.scales) < 2 {
		return ch
	}
	step := math.Log(ch.scales[1] / ch.scales[0])
	parts := int(math.Ceil(step / fineScale))
	if parts < 2 {
		return ch
	}
	post := ch.scalePosterior(l, cuts, patterns, prior)
	scales, logP := ch.scales, ch.logP
	ch.scales, ch.logP = nil, nil
	for k, scale := range scales {
		if slices.Max(post[max(k-1, 0):min(k+2, len(post))]) < unlikely {
			continue
		}
		for j := range parts {
			away := (float64(j)+0.5)/float64(parts) - 0.5 // steps
			ch.scales = append(ch.scales, scale*math.Exp(away*step))
			ch.logP = append(ch.logP, between(logP, float64(k)+away)-math.Log(float64(parts)))
		}
	}
	return ch
}

// alone are the scalings of one channel.
func (ch channel) alone() (out []scaling) {
	for k, p := range ch.logP {
		out = append(out, scaling{at: []int{k}, logP: p})
	}
	return out
}

// scalePosterior is how likely the scales are by what the channel says, whatever
// the pattern, natural logarithm, 0 for the best.
func (ch channel) scalePosterior(l engine.Layout, cuts []Cut, patterns []finding.Pattern, prior []float64) []float64 {
	w := newWeigher(l, cuts, []channel{ch}, ch.alone(), usualMix(patterns, prior))
	out := make([]float64, len(ch.scales))
	for k := range out {
		out[k] = math.Inf(-1)
	}
	for i, p := range patterns {
		for k, v := range w.byScale(p) {
			out[k] = logSum([]float64{out[k], v + prior[i]})
		}
	}
	best := slices.Max(out)
	for k := range out {
		out[k] -= best
	}
	return out
}

// together are the scalings of all channels that none of them finds too unlikely.
func together(channels []channel, posts [][]float64) []scaling {
	out := []scaling{{}}
	post := []float64{0}
	for c, ch := range channels {
		var next []scaling
		var nextPost []float64
		for i, s := range out {
			for k, p := range ch.logP {
				if v := post[i] + posts[c][k]; v > unlikely {
					next = append(next, scaling{append(slices.Clone(s.at), k), s.logP + p})
					nextPost = append(nextPost, v)
				}
			}
		}
		out, post = next, nextPost
	}
	return out
}

// between is x at a place that need not be whole, along straight lines.
func between(x []float64, at float64) float64 {
	k := min(max(int(math.Floor(at)), 0), len(x)-2)
	part := at - float64(k)
	return (1-part)*x[k] + part*x[k+1]
}
