package crank

import (
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"halforder/finding"
)

// fullWork is the physical expectation of how much a dead cylinder takes from
// the crank, as a share of its energy ½Jω²: 15 % at 800 rpm for one of four,
// falling with speed squared and with the number of cylinders (a bigger engine
// has a bigger flywheel). From 0.5 l a cylinder, 1.6 bar indicated at idle and
// 0.04 kg·m² a cylinder; under load and with other flywheels it differs, hence
// the wide spread.
func fullWork(cylinders int, rpm float64) float64 {
	return idleWork(cylinders, rpm) * ownFriction(rpm) / ownFriction(800)
}

// idleWork is fullWork of an engine whose friction did not grow with speed.
func idleWork(cylinders int, rpm float64) float64 {
	return 0.15 * (4 / float64(cylinders)) * (800 / rpm) * (800 / rpm)
}

// ownFriction is the mean pressure in bar that an unloaded engine must make to
// turn itself, 1.6 bar at idle: rubbing and pumping rise with speed (published:
// Heywood 13.5, 0.15 n + 0.05 n² at n thousand rpm).
func ownFriction(rpm float64) float64 {
	n := rpm / 1000
	return 1.45 + 0.15*n + 0.05*n*n
}

// The spread of ln(fullWork): a heavy flywheel or a small cylinder takes less
// away, load and light flywheels much more.
const fullWorkBelow, fullWorkAbove = 0.55, 0.75

// naturalSpreads are the scatters of healthy cylinders' work and how much each
// is believed: 3–5 % is common practice for a healthy idle, some have more.
var naturalSpreads = []weighted{{0.04, 0.55}, {0.08, 0.38}, {0.12, 0.07}}

type weighted struct{ value, weight float64 }

// weakWork is the share of work a weak cylinder still does.
var weakWork = []weighted{{0.35, 0.3}, {0.55, 0.4}, {0.7, 0.3}}

// judgement is what the mean cycle of one speed bin says.
type judgement struct {
	rpm    float64
	cycles int
	log    map[finding.Pattern]float64 // ln P(mean cycle | pattern)
	full   map[finding.Pattern]float64 // believed full work under the pattern, relative energy
	work   quadratic                   // of the firings' relative energies
}

// slotPattern is a pattern over the firings in the order of tops.
type slotPattern = finding.Pattern

// candidatePatterns are all states of one cylinder, all pairs, and for small
// engines three dead at once.
func candidatePatterns(n int) []slotPattern {
	healthy := finding.AllWork(n)
	out := []slotPattern{healthy}
	for i := range n {
		out = append(out, healthy.With(i, finding.Dead), healthy.With(i, finding.Weak))
		for j := i + 1; j < n; j++ {
			dead := healthy.With(i, finding.Dead)
			out = append(out, dead.With(j, finding.Dead), dead.With(j, finding.Weak),
				healthy.With(i, finding.Weak).With(j, finding.Dead), healthy.With(i, finding.Weak).With(j, finding.Weak))
			for k := j + 1; k < n && n <= 8; k++ {
				out = append(out, dead.With(j, finding.Dead).With(k, finding.Dead))
			}
		}
	}
	if n == 1 {
		return out[:1] // a single has no other cylinder to be compared with
	}
	return slices.DeleteFunc(out, func(p slotPattern) bool {
		return p.Canonical() == finding.Pattern(slices.Repeat([]byte{byte(finding.Dead)}, n))
	})
}

// singlePatterns are the states of one cylinder with all others working.
func singlePatterns(n int) []slotPattern {
	return slices.DeleteFunc(candidatePatterns(n), func(p slotPattern) bool {
		return n-strings.Count(string(p), string(rune(finding.Works))) > 1
	})
}

// logPrior is how likely a pattern is before looking: half the engines on the
// bench have no steady fault, single faults are the rule.
func logPrior(p finding.Pattern) float64 {
	dead, weak := p.Count(finding.Dead), p.Count(finding.Weak)
	if dead+weak == 0 {
		return math.Log(0.5)
	}
	n := float64(len(p))
	return math.Log(0.25/n) - 2.5*float64(dead+weak-1) - 0.7*float64(weak)
}

// steadiest is the least cycle-to-cycle scatter of a firing engine's work, as a
// share of it; few idle below 4 % (from memory of combustion texts).
const steadiest = 0.03

// wildest is the most that a firing's work scatters, as a share of it: idling
// engines reach a third before they miss outright (from memory), roads seldom
// bring more.
const wildest = 0.35

// scatter is how much a position's work scatters, relative energy.
type scatter struct {
	cycle float64 // from one cycle to the next; 0: not known
	mean  float64 // of its mean
	real  float64 // from one cycle to the next without the jitter of the edges
	swing float64 // full work that would make all of the firing order's swing; 0: not known
}

// limits is the prior of ln(full) that the cycle-to-cycle scatter sets: a full
// work cannot be so large that combustion would be steadier than it ever is,
// nor so small that it would be wilder; and sound firings must make the crank
// swing, at speeds where compression adds to that and pistons take little away.
func (s scatter) limits(full float64) float64 {
	out := 0.0
	if s.cycle > 0 && full*steadiest > s.cycle {
		x := math.Log(full*steadiest/s.cycle) / 0.3
		out -= x * x / 2
	}
	if s.real > full*wildest {
		x := math.Log(s.real/(full*wildest)) / 0.3
		out -= x * x / 2
	}
	if s.swing > 0 && full > mostOfSwing*s.swing {
		x := math.Log(full/(mostOfSwing*s.swing)) / 0.3
		out -= x * x / 2
	}
	return out
}

// mostOfSwing is by how much the pistons' inertia may hide the swing that gas
// makes in the firing order, below swingRules rpm.
const (
	mostOfSwing = 1.5
	swingRules  = 1500
)

// swingOf is the most full work that could make the swing of the firing order
// alone, marks out of place allowed for; 0 where marks or speed do not tell.
func swingOf(c *clock, b bin, tops []float64) float64 {
	n := len(tops)
	if b.rpm > swingRules || !evenTops(tops) || n < 2 || c.wheel.Learn && !c.nominal || len(c.angles) < 3*n {
		return 0
	}
	seen, ok1 := harmonic(c.angles, b.late, n)
	one, ok2 := harmonic(c.angles, column(c.angles, cycleDelay), n)
	if !ok1 || !ok2 {
		return 0
	}
	own := toothSpread
	if len(c.wheel.Angles) <= fewMarks {
		own = fewSpread
	}
	place := own*math.Sqrt(2/float64(len(c.wheel.Angles))) + runoutSpread/2
	return (cmplx.Abs(seen) + 2*place) / (float64(n) * cmplx.Abs(one))
}

// judgeBin weighs every pattern against one mean cycle.
func judgeBin(b bin, work quadratic, patterns []slotPattern, sc scatter) judgement {
	n := len(patterns[0])
	out := judgement{rpm: b.rpm, cycles: b.cycles, work: work, log: map[slotPattern]float64{}, full: map[slotPattern]float64{}}
	expect := fullWork(n, b.rpm)
	sums := map[slotPattern]*logSum{}
	for _, p := range patterns {
		sums[p] = &logSum{}
	}
	for _, step := range []float64{-2.5, -2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3} {
		full := expect * math.Exp(step*fullWorkAbove)
		if step < 0 {
			full = expect * math.Exp(step*fullWorkBelow)
		}
		prior := sc.limits(full) - step*step/2
		for _, natural := range naturalSpreads {
			s := natural.value * full
			e := newEvidence(work, s*s+sc.mean*sc.mean)
			for _, p := range patterns {
				for _, weak := range weakWork {
					if !hasWeak(p) {
						weak = weighted{1, 1}
					}
					l := e.log(means(p, full, weak.value)) + prior + math.Log(natural.weight*weak.weight)
					sums[p].add(l, full)
					if !hasWeak(p) {
						break
					}
				}
			}
		}
	}
	for p, s := range sums {
		out.log[p], out.full[p] = s.log(), s.mean()
	}
	return out
}

func hasWeak(p slotPattern) bool { return slices.Contains([]byte(p), byte(finding.Weak)) }

// means are the firings' works under a pattern, up to a constant.
func means(p slotPattern, full, weak float64) *mat.VecDense {
	v := mat.NewVecDense(len(p), nil)
	for k, s := range []byte(p) {
		switch finding.State(s) {
		case finding.Dead:
			v.SetVec(k, -full)
		case finding.Weak:
			v.SetVec(k, -full*(1-weak))
		}
	}
	return v
}

// evidence is the marginal likelihood of a mean when firings scatter
// independently around it with a variance.
type evidence struct {
	info  *mat.Dense // Λ(I+qΛ)⁻¹
	score *mat.VecDense
	base  float64
}

func newEvidence(work quadratic, q float64) evidence {
	n := work.score.Len()
	var a, inv mat.Dense // I + qΛ
	a.Scale(q, work.info)
	for i := range n {
		a.Set(i, i, a.At(i, i)+1)
	}
	if err := inv.Inverse(&a); err != nil && !isCondition(err) {
		return evidence{mat.NewDense(n, n, nil), mat.NewVecDense(n, nil), 0}
	}
	e := evidence{info: mat.NewDense(n, n, nil), score: mat.NewVecDense(n, nil)}
	e.info.Mul(work.info, &inv)
	e.score.MulVec(&inv, work.score)
	logDet, _ := mat.LogDet(&a)
	e.base = -logDet/2 + q*mat.Dot(work.score, e.score)/2
	return e
}

func (e evidence) log(mean *mat.VecDense) float64 {
	return e.base + mat.Dot(e.score, mean) - mat.Inner(mean, e.info, mean)/2
}

// logSum adds weights given as logarithms and averages a value with them.
type logSum struct {
	logs, values []float64
}

func (s *logSum) add(l, value float64) {
	s.logs, s.values = append(s.logs, l), append(s.values, value)
}

func (s *logSum) log() float64 {
	top := slices.Max(s.logs)
	sum := 0.0
	for _, l := range s.logs {
		sum += math.Exp(l - top)
	}
	return top + math.Log(sum)
}

func (s *logSum) mean() float64 {
	top := slices.Max(s.logs)
	sum, total := 0.0, 0.0
	for i, l := range s.logs {
		w := math.Exp(l - top)
		sum += w
		total += w * s.values[i]
	}
	return total / sum
}
