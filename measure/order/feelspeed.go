package order

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"halforder/engine"
)

// A line fits more than one speed: the firing order of one is order 1.5 of
// another. So the speed found is tried against the others with which it shares
// lines, by folding some of the recording at each.
const (
	trySeconds  = 20.0
	tryRounds   = 2
	tryTop      = 60.0 // Hz, the highest line, unless firing orders are higher
	tryFiring   = 1.2  // times the firing order at the highest usual idle, and of the speed found
	tryBlock    = 0.5  // s
	tryLeast    = -4.5 // log-prior of speeds not tried
	trySlowest  = engine.RPM(350)
	tryFastest  = engine.RPM(5000)
	lineClear   = 20.0 // power of a line over the variance of its mean from which it counts
	lineMost    = 3.0  // what a line counts at most, however clear
	firingDrop  = 0.5  // ln by which an order may exceed the firing order
	firingSlack = 0.5  // spread beyond it
	strangeMost = 2.5
	firingBlind = 1.5 // cost of a speed whose firing order is out of reach
	rivalMargin = 2.0 // within which another speed may be the right one
	unevenDoubt = 5.0 // the same for uneven firing, whose lines are many
)

// What engines with something lying on them turn at, if nothing else is known:
// they idle. Common practice for the idle, the spread a judgement (prior).
const (
	idleLow, idleHigh     = engine.RPM(650), engine.RPM(950)
	idleBelow, idleAbove  = 0.15, 0.25
	idleLeast             = -5.0
	typedSpread, typedOff = 0.05, -12.0
)

func idlePrior(n, typed engine.RPM) float64 {
	if typed > 0 {
		z := math.Log(float64(n/typed)) / typedSpread
		return max(-z*z/2, typedOff)
	}
	below := min(0, math.Log(float64(n/idleLow))) / idleBelow
	above := max(0, math.Log(float64(n/idleHigh))) / idleAbove
	return max(-(below*below+above*above)/2, idleLeast)
}

// ratios of speeds that share lines with one whose firing order, or whose order
// 1, was mistaken for another's.
func ratios(n int) []float64 {
	out := []float64{1}
	for _, from := range []int{n, 2, 3} {
		for to := 1; to <= 2*n; to++ {
			r := float64(from) / float64(to)
			known := false
			for _, o := range out {
				known = known || math.Abs(o/r-1) < 1e-9
			}
			if !known && r > 0.25 && r < 4 {
				out = append(out, r)
			}
		}
	}
	return out
}

// likeliest is the course at the multiple of its rate that fits best, and at
// the next best, if that fits nearly as well.
func (m *motion) likeliest(c course, config Config) (best course, rival *course) {
	if len(c.speeds) == 0 {
		return c, nil
	}
	topHz := min(reachShare*m.rate, max(tryTop, tryFiring*float64(config.Layout.N())*max(c.hz(), idleHigh.CycleHz())))
	var found, scores []float64
	for _, r := range ratios(config.Layout.N()) {
		n := engine.FromCycleHz(c.hz() * r)
		prior := idlePrior(n, config.Speed)
		if r == 1 || n >= trySlowest && n <= tryFastest && prior >= tryLeast {
			found = append(found, r)
			scores = append(scores, m.trial(c.times(r, trySeconds), topHz, config.Layout)+prior)
		}
	}
	first := floats.MaxIdx(scores)
	top := scores[first]
	best = c.times(found[first], math.Inf(1))
	scores[first] = math.Inf(-1)
	margin := rivalMargin
	if !config.Layout.Even() {
		margin = unevenDoubt
	}
	if second := floats.MaxIdx(scores); scores[second] > top-margin {
		other := c.times(found[second], math.Inf(1))
		rival = &other
	}
	return best, rival
}

// trial scores a course by folding the motion along it: what its lines explain,
// less what is strange about them.
func (m *motion) trial(c course, topHz float64, layout engine.Layout) float64 {
	hz := c.hz()
	top := int(topHz / hz)
	if top < 1 {
		return math.Inf(-1)
	}
	length := max(lengthOf(m.rate, hz, top), int(math.Round(tryBlock*hz)))
	blocks, _ := m.aligned(c.pace(), fit{layout.N(), 1, top, length, top, tryRounds})
	if len(blocks) < 3 {
		return math.Inf(-1)
	}
	f := foldAll(blocks, len(m.x), top, layout, [][]float64{})
	var gain, strongest, firing float64
	for _, l := range f.shakenOrders() {
		gain += min(math.Log1p(float64(len(blocks))*l.steady*l.steady/lineClear), lineMost) - math.Log1p(1/lineClear)
		strongest = max(strongest, math.Exp(l.log))
		if l.natural && l.h <= layout.N() {
			firing = max(firing, math.Exp(l.log))
		}
	}
	strange := firingBlind
	if firing > 0 {
		z := max(0, math.Log(strongest/firing)-firingDrop) / firingSlack
		strange = min(z*z/2, strangeMost)
	}
	return gain - strange
}
