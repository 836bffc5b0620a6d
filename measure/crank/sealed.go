package crank

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"halforder/finding"
)

// compressionLevels are the shares of a good peak pressure that the states stand
// for, and how they are believed. The weak ones begin where trade practice
// sets the limit, the lowest pressure at least 75 % of the highest.
var (
	weakCompression = []weighted{{0.55, 0.3}, {0.66, 0.35}, {0.78, 0.35}}
	lostCompression = []weighted{{0.05, 0.35}, {0.25, 0.35}, {0.43, 0.3}}
)

// besideLost is how low a compression must be to be called weak when another is
// lost: what the lost one does to the speed around it is not modelled to better
// than that.
const besideLost = 0.7

// compressionSpread is the scatter of sound compressions: cranking tests of
// healthy engines agree within some 5 % (common practice).
const compressionSpread = 0.035

// speedBlur is by how much the model of cranking misses a compression, as a share
// of a good one: what engines of other ratios, strokes and valve times than its
// own left in trials on simulated ones.
const speedBlur = 0.025

// evenFrom is the share of a good compression that all must reach to be called
// even: below the middle between a sound one and the first of weakCompression
// the prior alone would say so. And none may be so uncertain that it could be
// at weakLimit, the least of trade practice.
const evenFrom, weakLimit = 0.89, 0.75

// lostBelow is the middle between the weakest and the best of the lost; above
// it a low one is called weak, however likely lost ones are.
const lostBelow = 0.49

// compressionPosterior weighs every pattern against the fit.
func compressionPosterior(q quadratic, patterns []slotPattern, scale float64) (posterior, map[slotPattern]float64) {
	sums := map[slotPattern]*logSum{}
	for _, p := range patterns {
		sums[p] = &logSum{}
	}
	const levels, finest = 29, 0.02 // finer than compressions scatter, or the steps themselves would speak
	for level := range levels {
		full := scale * (0.75 + finest*float64(level))
		s := compressionSpread * full
		e := newEvidence(q, s*s)
		for _, p := range patterns {
			for _, weak := range weakCompression {
				for _, lost := range lostCompression {
					mean := mat.NewVecDense(len(p), nil)
					for k, state := range []byte(p) {
						share := map[finding.State]float64{finding.Works: 1, finding.Weak: weak.value, finding.Dead: lost.value}[finding.State(state)]
						mean.SetVec(k, share*full)
					}
					sums[p].add(e.log(mean)+math.Log(weak.weight*lost.weight), full)
				}
			}
		}
	}
	log, full := map[slotPattern]float64{}, map[slotPattern]float64{}
	for p, s := range sums {
		log[p], full[p] = s.log(), s.mean()
	}
	return weighPatterns([]judgement{{log: log}}, patterns), full
}

// compression turns the fit into a finding.
func (a *analysis) compression(f compressionFit, cycle crankingCycle) *Compression {
	n := len(a.tops)
	a.patterns = candidatePatterns(n)
	scale := upperMiddle(f.mean)
	var full map[slotPattern]float64
	a.post, full = compressionPosterior(f.say, a.patterns, scale)
	rel, dev := relativeTo(f.say, full[a.post.best], a.post.best, a.goodSpread())
	for k := range dev {
		dev[k] = math.Hypot(dev[k], speedBlur)
	}
	if !goodOnesAgree(rel, a.post.best) {
		a.post = weighPatterns([]judgement{{}}, a.patterns)
	}
	out := a.compressionOf(rel, dev)
	notes := a.remarks()
	if a.movedMarks {
		notes = append(notes, "The marks were placed by this cranking: that a cylinder is low can be believed, how low only roughly.")
	}
	out.Finding.Notes = append(notes, evenlyLow,
		fmt.Sprintf("%d cycles of cranking at %.0f rpm were weighed.", cycle.cycles, cycle.rpm))
	return out
}

// astray is how far a good compression may stand from the others before the fit
// is not believed, more than three times compressionSpread.
const astray = 0.12

// nothingLeft is the least share of a good compression that a lost one may seem to
// have; a fit that leaves one with less has not found the engine.
const nothingLeft = -0.15

// goodOnesAgree reports whether at least two cylinders called good have about
// the same compression: only that shows that the fit has found the engine. With
// fewer a wrong one looks as sure as a right one.
func goodOnesAgree(rel []float64, p slotPattern) bool {
	for k, r := range rel {
		if r < nothingLeft || finding.State(p[k]) == finding.Works && math.Abs(r-1) > astray {
			return false
		}
	}
	return p.Count(finding.Works) > 1
}

// compressionOf makes the finding of relative compressions by slot.
func (a *analysis) compressionOf(rel, dev []float64) *Compression {
	out := &Compression{Relative: make([]float64, len(rel))}
	for slot, r := range rel {
		out.Relative[a.positionOf(slot)] = r
	}
	lost := slices.DeleteFunc(a.lowSlots(finding.Dead), func(k int) bool { return rel[k] > lostBelow || a.movedMarks })
	weak := a.lowSlots(finding.Weak)
	weak = slices.DeleteFunc(weak, func(k int) bool { return slices.Contains(lost, k) || len(lost) > 0 && rel[k] > besideLost })
	out.Lost, out.Weak = a.namedOnly(lost), a.namedOnly(weak)
	out.Finding = finding.Finding{Analysis: CompressionVersion, Likelihood: a.likelihood()}
	out.Finding.Verdict, out.Finding.Sentence = a.compressionVerdict(lost, weak, rel, dev)
	out.Finding.Sentence = a.asFitted(out.Finding.Sentence)
	out.Finding.Quantities = a.compressionQuantities(rel, dev)
	out.Finding.Series = a.compressionSeries(rel, dev)
	return out
}

const evenlyLow = "Compression is compared between cylinders only: cranking cannot see when all are evenly low. A gauge can."

// upperMiddle is the median of the upper half: what good cylinders have.
func upperMiddle(v []float64) float64 {
	s := sorted64(v)
	return max(1e-6, median(s[len(s)/2:]))
}

// lowSpread is the weak prior around a good compression that stands in where the
// wheel cannot tell.
const lowSpread = 0.3

// goodSpread is that prior for the good ones. A learnt wheel tells only how
// cylinders a turn apart differ: there the good ones are held together, else a
// loss would be shared out between two.
func (a *analysis) goodSpread() float64 {
	if a.movedMarks {
		return astray / 2
	}
	return lowSpread
}

// relativeTo is the estimate of each compression as a share of the good ones,
// with its standard deviation.
func relativeTo(q quadratic, good float64, pattern slotPattern, goodSpread float64) (rel, dev []float64) {
	n := q.score.Len()
	var a, inv mat.Dense
	a.CloneFrom(q.info)
	b := mat.NewVecDense(n, nil)
	for i := range n {
		spread := lowSpread
		if finding.State(pattern[i]) == finding.Works {
			spread = goodSpread
		}
		prior := 1 / (spread * spread * good * good)
		a.Set(i, i, a.At(i, i)+prior)
		b.SetVec(i, q.score.AtVec(i)+prior*good)
	}
	rel, dev = make([]float64, n), make([]float64, n)
	if err := inv.Inverse(&a); err != nil && !isCondition(err) {
		return rel, dev
	}
	var x mat.VecDense
	x.MulVec(&inv, b)
	works := mat.NewVecDense(n, nil) // weights of the good ones
	for k := range n {
		if finding.State(pattern[k]) == finding.Works {
			works.SetVec(k, 1/float64(pattern.Count(finding.Works)))
		}
	}
	mean := mat.Dot(works, &x)
	if !(mean > 0) {
		return rel, dev
	}
	for i := range n {
		rel[i] = x.AtVec(i) / mean
		var against mat.VecDense
		against.ScaleVec(-rel[i], works)
		against.SetVec(i, against.AtVec(i)+1)
		dev[i] = math.Sqrt(max(0, mat.Inner(&against, &inv, &against))) / mean
	}
	return rel, dev
}

func (a *analysis) compressionVerdict(lost, weak []int, rel, dev []float64) (finding.Verdict, string) {
	switch {
	case len(lost) > 0:
		s := fmt.Sprintf("%s has lost its compression.", upper(a.phrases(lost)))
		if len(weak) > 0 {
			s += fmt.Sprintf(" %s is weak.", upper(a.phrases(weak)))
		}
		return finding.Misfire, s
	case len(weak) > 0:
		lowest := weak[0]
		for _, k := range weak {
			if rel[k] < rel[lowest] {
				lowest = k
			}
		}
		return finding.CannotTell, fmt.Sprintf("%s is weak in compression, the lowest about %.0f %% of the good ones.", upper(a.phrases(weak)), 100*rel[lowest])
	case a.post.healthy() > sureSlot && slices.Min(rel) > evenFrom && !couldBeWeak(rel, dev):
		if a.movedMarks && a.misled {
			return finding.CannotTell, "Where the cylinders compress cannot be told on marks learnt while cranking: mend the angle given, or leave it out."
		}
		if a.movedMarks && a.setup.Layout.N()%2 == 0 {
			return finding.CannotTell, "No cylinder stands out against the one a turn away. Both being low cannot be seen on marks learnt while cranking: give the marks' angles, or measure the starter's current."
		}
		return finding.NoMisfire, "Compression is even: no cylinder stands out. Evenly low cannot be seen this way."
	case a.post.healthy() < 1-sureMisfire:
		return finding.CannotTell, "Compression is uneven, but which cylinder is low cannot be told: " + a.rivals()
	}
	if c := a.clock; c != nil && c.wheel.Learn && !c.nominal {
		return finding.CannotTell, fmt.Sprintf("%d marks a turn, learnt while cranking, are too few to compare these %d cylinders: give the marks' angles, or measure the starter's current.",
			len(c.wheel.Angles), len(a.tops))
	}
	return finding.CannotTell, "Cranking does not tell whether a cylinder is low: crank longer, plugs in, fuel and spark off, battery full."
}

// couldBeWeak reports whether the interval of a compression reaches weakLimit.
func couldBeWeak(rel, dev []float64) bool {
	for k, r := range rel {
		if r-1.96*dev[k] < weakLimit {
			return true
		}
	}
	return false
}

func (a *analysis) compressionQuantities(rel, dev []float64) []finding.Quantity {
	var out []finding.Quantity
	for _, k := range a.inOrder() {
		out = append(out, finding.Quantity{Name: "compression of " + a.slotLabel(k), Unit: "%", Value: 100 * rel[k],
			Low: 100 * (rel[k] - 1.96*dev[k]), High: 100 * (rel[k] + 1.96*dev[k]), Confidence: confidence})
	}
	return out
}

func (a *analysis) compressionSeries(rel, dev []float64) []finding.Series {
	s := finding.Series{Title: "Relative compression while cranking", Shape: finding.Bars, XName: "cylinder, in firing order", YName: "of the good ones", YUnit: "%"}
	for i, k := range a.inOrder() {
		s.X = append(s.X, float64(i+1))
		s.Y = append(s.Y, 100*rel[k])
		s.Low = append(s.Low, 100*(rel[k]-1.96*dev[k]))
		s.High = append(s.High, 100*(rel[k]+1.96*dev[k]))
		s.Labels = append(s.Labels, a.slotName(k))
	}
	return []finding.Series{s}
}
