package cutout

import (
	"math"
)

// channel is one kind of effect, measured once or twice per cut, that grows in
// proportion to what the cut cylinder did.
type channel struct {
	name   string
	cuts   [][]Estimate // by cut; none: not measured
	places []*spread    // by cut, of the speed: in place of cuts where the place is not sure; nil: none
	beside []float64    // by cut: strength that went elsewhere and shows here too; nil: none
	scales []float64    // effects of a healthy cylinder that are considered
	logP   []float64    // how likely each is beforehand
	off    float64      // how far one measurement may be off beyond its noise, share of scale
	moved  float64      // how often something else changes while one is made, beyond disturbedP
	ofW    bool         // off counts in shares of the effect itself: no strength, no effect
}

// How far one measurement of an effect may be off beyond its noise: always by a
// few per cent of a healthy cylinder's effect; now and then, when a fan or a
// foot came in between, by much of it (judgement).
const (
	alwaysOff   = 0.06
	disturbedBy = 0.8
	disturbedP  = 0.03

	mostDisturbed = 0.5
)

// sharedP is how often what came in between shows in all effects of a cut at once:
// a fan that stops when a cylinder goes keeps the speed and spares the idle control
// its effort (judgement).
const sharedP = 0.02

// speedScales are the early drops a healthy cylinder may give: about 0.4 of the
// bound idle/n, within a factor of two mostly (trade notes 3.1: 80–150 rpm on a
// four under idle control, bound 188).
func speedScales(idle float64, n int) (scales, logP []float64) {
	return logNormal(0.4*idle/float64(n), 0.7, coarseScales)
}

// freeScales fits a quantity whose unit says nothing: anything from a tenth of
// the largest effects up.
func freeScales(cuts [][]Estimate) (scales, logP []float64) {
	var sizes []float64
	for _, c := range cuts {
		for _, e := range c {
			sizes = append(sizes, math.Abs(e.Value))
		}
	}
	median(sizes) // sorts
	if len(sizes) == 0 || sizes[len(sizes)-1] == 0 {
		return nil, nil
	}
	return logNormal(sizes[len(sizes)*3/4], 1.2, coarseScales)
}

func logNormal(centre, spread float64, n int) (x, logP []float64) {
	for i := range n {
		z := -3 + 6*float64(i)/float64(n-1)
		x = append(x, centre*math.Exp(z*spread))
		logP = append(logP, -z*z/2)
	}
	total := logSum(logP)
	for i := range logP {
		logP[i] -= total
	}
	return x, logP
}

// repeatability is how far measurements of the same cut differ beyond their
// noise, as a share of a healthy cylinder's effect: from both ends of the cuts,
// with alwaysOff counted as four cuts' worth of experience.
func repeatability(cuts []Cut, ratio float64) float64 {
	var drops, off []float64
	for _, c := range cuts {
		if c.Seen && c.EndSeen && !c.Stalled {
			drops = append(drops, c.Drop.Value)
		}
	}
	scale := median(drops)
	if scale <= 0 {
		return alwaysOff
	}
	for _, c := range cuts {
		if c.Seen && c.EndSeen && !c.Stalled {
			d := c.Drop.Value - c.Rise.Value/ratio
			noise := c.Drop.Sigma*c.Drop.Sigma + c.Rise.Sigma*c.Rise.Sigma/(ratio*ratio)
			off = append(off, (d*d-noise)/(2*scale*scale))
		}
	}
	n := float64(len(off))
	// The median of squares is 0.455 of their mean for normal deviations.
	square := (4*alwaysOff*alwaysOff + n*math.Max(median(off)/0.455, 0)) / (4 + n)
	return math.Min(math.Max(math.Sqrt(square), 0.04), 0.3)
}

// density is how likely cut i's effects are when the cut took strength w away
// and a healthy cylinder has effect scale; and how likely when all of them were
// disturbed.
func (ch channel) density(i int, w, scale float64) (usual, disturbed float64) {
	if ch.beside != nil {
		w += ch.beside[i]
	}
	off, often := ch.off*scale, math.Min(disturbedP+ch.moved, mostDisturbed)
	if len(ch.places) > i && ch.places[i] != nil {
		s := ch.places[i]
		disturbed = s.density(w*scale, math.Hypot(off, disturbedBy*scale))
		return (1-often)*s.density(w*scale, off) + often*disturbed, disturbed
	}
	if ch.ofW {
		off *= w
	}
	usual, disturbed = 1, 1
	for _, e := range ch.cuts[i] {
		if math.IsInf(e.Sigma, 1) {
			continue
		}
		d, variance := e.Value-w*scale, e.Sigma*e.Sigma+off*off
		wide := normal(d, variance+disturbedBy*disturbedBy*scale*scale)
		usual *= (1-often)*normal(d, variance) + often*wide
		disturbed *= wide
	}
	return usual, disturbed
}

func normal(d, variance float64) float64 {
	return math.Exp(-d*d/(2*variance)) / math.Sqrt(2*math.Pi*variance)
}

// logSum is ln Σ exp(x); −Inf for none.
func logSum(x []float64) float64 {
	top := math.Inf(-1)
	for _, v := range x {
		top = max(top, v)
	}
	if math.IsInf(top, -1) {
		return top
	}
	var sum float64
	for _, v := range x {
		if v > top-beneath {
			sum += math.Exp(v - top)
		}
	}
	return top + math.Log(sum)
}

// beneath is how far below the greatest term of a sum another is lost in
// rounding, in natural logarithms.
const beneath = 40.0
