package crank

import (
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"halforder/finding"
)

// posterior is the belief in each pattern, in the order of tops.
type posterior struct {
	log  map[slotPattern]float64 // ln P(data | pattern), all bins together
	p    map[slotPattern]float64 // with logPrior, sums to 1
	best slotPattern
}

// mostEvidence caps how much one recording may say against a pattern: the
// model is not exact, and many cycles repeat the same error.
const mostEvidence = 60.0

func weighPatterns(judged []judgement, patterns []slotPattern) posterior {
	out := posterior{log: map[slotPattern]float64{}, p: map[slotPattern]float64{}}
	top := math.Inf(-1)
	for _, p := range patterns {
		for _, j := range judged {
			out.log[p] += j.log[p] / math.Sqrt(float64(len(judged))) // bins share mark errors: not independent
		}
		top = max(top, out.log[p])
	}
	total := 0.0
	for _, p := range patterns {
		out.log[p] = max(out.log[p]-top, -mostEvidence)
		out.p[p] = math.Exp(out.log[p] + logPrior(p))
		total += out.p[p]
	}
	best := 0.0
	for _, p := range patterns {
		out.p[p] /= total
		if out.p[p] > best {
			best, out.best = out.p[p], p
		}
	}
	return out
}

// believed is the pattern that the mean works are taken from: what is sure, else
// all working, so that doubt about the mean makes no misses.
func (a *analysis) believed() slotPattern {
	healthy := finding.AllWork(len(a.tops))
	if a.post.healthy() > 1-sureMisfire {
		return healthy
	}
	p := healthy
	for _, k := range a.lowSlots(finding.Weak) {
		p = p.With(k, finding.Weak)
	}
	for _, k := range a.steadilyDead() {
		p = p.With(k, finding.Dead)
	}
	if _, known := a.post.p[p]; known {
		return p
	}
	return healthy
}

// meanWork is the mean work of each position in a bin, relative energy, and of
// a full miss: under a pattern, bent to the data.
func (j judgement) meanWork(p slotPattern) (mean []float64, full float64) {
	return j.bend(p, j.full[p]), j.full[p]
}

// naturalBend is the scatter of works around a pattern, in full works.
func naturalBend(p slotPattern) float64 {
	if hasWeak(p) {
		return 0.2
	}
	return 0.05
}

// bend is the mean of the works given the data when they scatter naturally
// around a pattern.
func (j judgement) bend(p slotPattern, full float64) []float64 {
	m := means(p, full, 0.5)
	n := len(p)
	s := naturalBend(p) * full
	var a mat.Dense // I + qΛ
	a.Scale(s*s, j.work.info)
	for i := range n {
		a.Set(i, i, a.At(i, i)+1)
	}
	var rest, shift mat.VecDense // q(I+qΛ)⁻¹(η − Λm)
	rest.MulVec(j.work.info, m)
	rest.SubVec(j.work.score, &rest)
	if err := shift.SolveVec(&a, &rest); err != nil && !isCondition(err) {
		return m.RawVector().Data
	}
	m.AddScaledVec(m, s*s, &shift)
	return m.RawVector().Data
}

// chance is the belief that a position is dead, and that it is dead or weak.
func (p posterior) chance(position int) (dead, low float64) {
	for pattern, w := range p.p {
		switch finding.State(pattern[position]) {
		case finding.Dead:
			dead += w
			low += w
		case finding.Weak:
			low += w
		}
	}
	return dead, low
}

// anyDead is the belief that at least one cylinder is dead.
func (p posterior) anyDead() (sum float64) {
	for pattern, w := range p.p {
		if strings.IndexByte(string(pattern), byte(finding.Dead)) >= 0 {
			sum += w
		}
	}
	return sum
}

// healthy is the belief that all work.
func (p posterior) healthy() float64 { return p.p[finding.AllWork(len(p.best))] }
