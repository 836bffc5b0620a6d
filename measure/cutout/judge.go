package cutout

import (
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// Verdict is what a test says of one cylinder.
type Verdict string

// The verdicts.
const (
	Works      Verdict = "works"
	Weak       Verdict = "weak"
	Dead       Verdict = "dead"
	CannotTell Verdict = "cannot tell"
)

// How sure a verdict must be. Accusing a good cylinder is the worst failure: of those
// said to be bad at most one in twenty-five may be good, and by calibration far fewer are.
const (
	sureGood  = 0.87
	sureBad   = 0.96
	sureWhich = 0.5 // of weak or dead, once one of them is sure
)

// Cylinder is what the test says of one cylinder. The chances are given the
// usual mix of cars that come in for running rough.
type Cylinder struct {
	Number   engine.Cylinder `json:"number"`
	Verdict  Verdict         `json:"verdict"`
	PWorks   float64         `json:"p_works"`
	PWeak    float64         `json:"p_weak"`
	PDead    float64         `json:"p_dead"`
	Cuts     int             `json:"cuts"`
	Strength Estimate        `json:"strength"` // share of a healthy cylinder's effect; Sigma +Inf is written as −1: not measured
}

// judge weighs all patterns under all ways to name the cuts.
func (a *analysis) judge(guesses []guess) Result {
	patterns := patternsOf(a.Layout)
	logs := make([]float64, len(patterns))
	if len(guesses) > 0 {
		logs = a.weigh(guesses, patterns) // also puts the likeliest guess first
	}
	r := Result{Layout: a.Layout, IdleRPM: engine.RPM(a.idle), line: a.Speed}
	if len(guesses) > 0 {
		r.Cuts = guesses[0].cuts
		for _, l := range a.loads(r.Cuts) {
			r.Loads = append(r.Loads, l.at)
		}
		a.pulled(r.Cuts)
	}
	if a.effort >= 0 {
		r.Effort = a.Efforts[a.effort].Name
	}
	r.Patterns = likelihoodOf(patterns, logs)
	post := posterior(patterns, logs)
	r.Cylinders = cylindersOf(a.Layout, patterns, post)
	a.strengths(&r)
	for i := range r.Cylinders {
		r.Cylinders[i].decide()
	}
	r.Sets = setsOf(r.Cylinders, a.Layout, patterns, post)
	a.remark(&r, guesses)
	return r
}

// injectorLag is how many cycles after its injector's connector moved a cylinder
// stops or starts firing: half a cycle on average to the next injection, and a
// quarter or more from there to the spark (derived; injection ahead of the intake).
const injectorLag = 0.75

// pulled puts the ends of cuts by the injector where the hand was: what was
// found is when the engine answered.
func (a *analysis) pulled(cuts []Cut) {
	if a.Means != InjectorLive || a.idle <= 0 {
		return
	}
	lag := injectorLag / engine.RPM(a.idle).CycleHz()
	for i := range cuts {
		if cuts[i].Seen {
			cuts[i].Start -= lag
		}
		if cuts[i].EndSeen {
			cuts[i].End -= lag
		}
	}
}

// weigh is ln P(all effects | pattern) for each pattern, and sorts the guesses
// by how likely they turned out to be.
func (a *analysis) weigh(guesses []guess, patterns []finding.Pattern) []float64 {
	prior := priorLog(patterns)
	each := make([][]float64, len(patterns))
	for n := range guesses {
		g := &guesses[n]
		w := a.weigher(g.cuts, patterns, prior)
		all := make([]float64, len(patterns))
		for i, p := range patterns {
			v := g.logP + w.log(p)
			each[i] = append(each[i], v)
			all[i] = v + prior[i]
		}
		g.evidence = logSum(all)
	}
	slices.SortStableFunc(guesses, func(x, y guess) int { return int(math.Copysign(1, y.evidence-x.evidence)) })
	out := make([]float64, len(patterns))
	for i := range each {
		out[i] = logSum(each[i])
	}
	return out
}

// weigher of all that the cuts did.
func (a *analysis) weigher(cuts []Cut, patterns []finding.Pattern, prior []float64) *weigher {
	var channels []channel
	var posts [][]float64
	for _, ch := range a.channels(cuts) {
		ch = ch.narrowed(a.Layout, cuts, patterns, prior)
		channels, posts = append(channels, ch), append(posts, ch.scalePosterior(a.Layout, cuts, patterns, prior))
	}
	return newWeigher(a.Layout, cuts, channels, together(channels, posts), usualMix(patterns, prior))
}

// channels are the effects in proportion to a cylinder's work: speed, and the
// best effort.
func (a *analysis) channels(cuts []Cut) []channel {
	ratio := a.endRatio(cuts)
	speed := channel{name: "speed", off: repeatability(cuts, ratio), moved: a.restlessness(cuts)}
	effort := channel{name: "effort", off: alwaysOff}
	for _, c := range cuts {
		speed.cuts = append(speed.cuts, []Estimate{c.Drop, {c.Rise.Value / ratio, c.Rise.Sigma / ratio}})
		speed.places = append(speed.places, c.speed)
		speed.beside = append(speed.beside, c.beside)
		if c.Effort != nil && finite(c.Effort.Value) && !c.Stalled {
			effort.cuts = append(effort.cuts, []Estimate{*c.Effort})
		} else {
			effort.cuts = append(effort.cuts, nil)
		}
	}
	rough := channel{name: "roughness", off: roughOff, ofW: true}
	for _, c := range cuts {
		if c.Rough != nil && finite(c.Rough.Value) && finite(c.Rough.Sigma) && !c.Stalled {
			rough.cuts = append(rough.cuts, []Estimate{*c.Rough})
		} else {
			rough.cuts = append(rough.cuts, nil)
		}
	}
	var out []channel
	if losses, ok := a.losses(cuts); ok {
		out = append(out, losses)
	} else if rough.scales, rough.logP = freeScales(rough.cuts); len(rough.scales) > 0 {
		out = append(out, rough)
	}
	if a.showsCuts(cuts) {
		speed.scales, speed.logP = speedScales(a.idle, a.Layout.N())
		out = append(out, speed)
	}
	if effort.scales, effort.logP = freeScales(effort.cuts); len(effort.scales) > 0 {
		out = append(out, effort)
	}
	return out
}

// restlessness is how often the speed changes by itself just where a cut begins or
// ends: as often as elsewhere in the recording. A speed by sound that lost its way
// does so all the time.
func (a *analysis) restlessness(cuts []Cut) float64 {
	free := a.speed.end() - a.speed.start
	free -= 4 * mergeWithin * float64(len(cuts)) // nothing else is seen at their ends
	return 2 * mergeWithin * float64(len(a.loads(cuts))) / math.Max(free, 1)
}

// losses are what the firings lost. What sets a cylinder apart there is the same at
// all cuts of it, and does not get less by repeating them.
func (a *analysis) losses(cuts []Cut) (ch channel, ok bool) {
	ch = channel{name: "losses", off: a.Cycles.Alike}
	n, compared := 0, map[engine.Cylinder]bool{}
	for _, c := range cuts {
		var own []Estimate
		if c.Loss != nil && !c.Stalled && finite(c.Loss.Sigma) {
			own = []Estimate{*c.Loss}
			n++
			compared[c.Cylinders[0]] = true
		}
		ch.cuts = append(ch.cuts, own)
	}
	ch.off *= math.Sqrt(float64(n) / float64(a.Layout.N()))
	ch.scales, ch.logP = logNormal(1, lossScale, coarseScales)
	return ch, n >= a.Layout.N() && float64(len(compared)) >= comparedShare*float64(a.Layout.N())
}

// comparedShare of the cylinders must be known by what they lost: losses are
// measured by each other, and of two of a three nobody knows which is the healthy
// one (judgement).
const comparedShare = 0.7

// lossScale is how far what healthy ones lose may be off from 1 (judgement).
const lossScale = 0.12

// roughOff: roughness depends on which cylinders are missing together, and on
// what unbalance adds, so a cut of a good one may change it by much more or less;
// a dead one's changes nothing. It tells something from nothing (judgement).
const roughOff = 0.7

// Cuts are looked for where the mark is, and something is found anywhere; only
// when enough of them stand out by both ends together does the speed count.
const (
	clearCut   = 4.5 // standard deviations
	clearShare = 0.4 // of the cuts
)

// leastDrop is how much of what a cylinder can give at most a drop must be to be
// one: a steady idle shows less everywhere, if one looks for it (judgement).
const leastDrop = 0.04

func (a *analysis) showsCuts(cuts []Cut) bool {
	n, least := 0, leastDrop*a.idle/float64(a.Layout.N())
	for _, c := range cuts {
		z := c.Drop.Value / c.Drop.Sigma
		if finite(c.Rise.Sigma) {
			z = (z + c.Rise.Value/c.Rise.Sigma) / math.Sqrt2
		}
		if z > clearCut && c.Drop.Value+c.Rise.Value > 2*least || c.Stalled {
			n++
		}
	}
	return n >= 2 && float64(n) >= clearShare*float64(len(cuts))
}

// floor is how far below the best a pattern is listed, in natural logarithms.
const floor = 18.0

func likelihoodOf(patterns []finding.Pattern, logs []float64) finding.Likelihood {
	best := math.Inf(-1)
	for _, v := range logs {
		best = math.Max(best, v)
	}
	l := finding.Likelihood{Log: map[finding.Pattern]float64{}, Else: -floor}
	for i, p := range patterns {
		if logs[i] > best-floor {
			l.Log[p] = logs[i] - best
		}
	}
	return l
}

func posterior(patterns []finding.Pattern, logs []float64) []float64 {
	post := priorLog(patterns)
	for i := range post {
		post[i] += logs[i]
	}
	total := logSum(post)
	for i := range post {
		post[i] = math.Exp(post[i] - total)
	}
	return post
}

func cylindersOf(l engine.Layout, patterns []finding.Pattern, post []float64) []Cylinder {
	out := make([]Cylinder, l.N())
	for i, c := range l.Cylinders() {
		k := l.Position(c)
		out[i].Number = c
		for j, p := range patterns {
			switch finding.State(p[k]) {
			case finding.Works:
				out[i].PWorks += post[j]
			case finding.Weak:
				out[i].PWeak += post[j]
			case finding.Dead:
				out[i].PDead += post[j]
			}
		}
	}
	return out
}

// decide gives the verdict the chances allow. A cylinder that was never cut
// alone or in a set is not judged.
func (c *Cylinder) decide() {
	bad := c.PWeak + c.PDead
	c.Verdict = CannotTell
	switch {
	case c.Cuts == 0:
	case c.PWorks >= sureGood:
		c.Verdict = Works
	case bad >= sureBad && c.PDead >= sureWhich*bad:
		c.Verdict = Dead
	case bad >= sureBad && c.PWeak >= sureWhich*bad:
		c.Verdict = Weak
	}
}

// strengths puts each cylinder's measured share of a healthy one's effect into
// the result: the mean of its own cuts over the median of the larger half, by
// what the firings lost, by speed where that shows the cuts, else by effort, else
// by roughness.
func (a *analysis) strengths(r *Result) {
	measured := a.clearest(r.Cuts)
	effects := make([]Estimate, a.Layout.N())
	for i := range effects {
		effects[i] = combine(r.Cuts, engine.Cylinder(i+1), func(k int) []Estimate { return measured(r.Cuts[k]) })
	}
	scale := healthyEffect(effects)
	for i, e := range effects {
		c := &r.Cylinders[i]
		for _, cut := range r.Cuts {
			if has(cut.Cylinders, c.Number) {
				c.Cuts++
			}
		}
		c.Strength = Estimate{Sigma: -1}
		if scale > 0 && finite(e.Sigma) {
			c.Strength = Estimate{e.Value / scale, math.Hypot(e.Sigma/scale, alwaysOff)}
		}
	}
}

// clearest gives the measurements of a cut that show most.
func (a *analysis) clearest(cuts []Cut) func(Cut) []Estimate {
	if _, ok := a.losses(cuts); ok {
		return func(c Cut) []Estimate {
			if c.Loss == nil || c.Stalled {
				return nil
			}
			return []Estimate{*c.Loss}
		}
	}
	if a.showsCuts(cuts) {
		ratio := a.endRatio(cuts)
		return func(c Cut) []Estimate {
			return []Estimate{c.Drop, {c.Rise.Value / ratio, c.Rise.Sigma / ratio}}
		}
	}
	return func(c Cut) []Estimate {
		switch {
		case c.Stalled:
		case c.Effort != nil:
			return []Estimate{*c.Effort}
		case c.Rough != nil:
			return []Estimate{*c.Rough}
		}
		return nil
	}
}

// combine is the weighted mean effect of the cuts of cylinder c alone.
func combine(cuts []Cut, c engine.Cylinder, measured func(k int) []Estimate) Estimate {
	var sum, weight float64
	for k, cut := range cuts {
		if len(cut.Cylinders) != 1 || cut.Cylinders[0] != c {
			continue
		}
		for _, e := range measured(k) {
			if e.Sigma > 0 && finite(e.Sigma) && finite(e.Value) {
				sum, weight = sum+e.Value/(e.Sigma*e.Sigma), weight+1/(e.Sigma*e.Sigma)
			}
		}
	}
	if weight == 0 {
		return Estimate{0, math.Inf(1)}
	}
	return Estimate{sum / weight, 1 / math.Sqrt(weight)}
}

func healthyEffect(effects []Estimate) float64 {
	var x []float64
	for _, e := range effects {
		if finite(e.Sigma) {
			x = append(x, e.Value)
		}
	}
	if len(x) == 0 {
		return 0
	}
	middle := median(x) // sorts
	var upper []float64
	for _, v := range x {
		if v >= middle {
			upper = append(upper, v)
		}
	}
	return median(upper)
}

func has(list []engine.Cylinder, c engine.Cylinder) bool {
	for _, other := range list {
		if other == c {
			return true
		}
	}
	return false
}
