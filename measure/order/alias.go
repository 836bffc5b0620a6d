package order

import (
	"math"

	"halforder/engine"
	"halforder/finding"
)

// An even engine with only every k-th firing left sounds like the same engine,
// whole, at 1/k of the speed.
const (
	aliasMargin   = 0.7             // ln by which it must beat one or two missing. Judgement
	slowestAlias  = engine.RPM(450) // no engine runs more slowly
	slowestPair   = engine.RPM(550) // below it, cylinders gone are likelier than an idle that slow. Judgement
	trustedSpeeds = 1.25            // a typed speed within this factor is believed
	aliasEvidence = 2.5             // ln over all working from which there is something to explain
)

// alias is the factor by which the speed is too high because the cycles show a
// whole engine at a part of it; 1 when they do not.
func (l *Listener) alias(cycles []cycle) int {
	speed, layout := l.heard.total.speed(), l.config.Layout
	if !layout.Even() || speed/2 < slowestAlias || l.heard.motion || l.typed(speed) {
		return 1
	}
	f := l.heard.folded(cycles)
	table := newTable(weigh(f), l.heard.ratioOf(f), layout.N())
	j := table.judge()
	best, factor := j.log[j.best()], 1
	for _, a := range aliasesOf(layout.N()) {
		bass, upper := table.of(a.pattern)
		if w := bass + upper; speed/engine.RPM(a.factor) >= a.slowest && w >= aliasEvidence && w >= best+a.price {
			best, factor = w, a.factor
		}
	}
	if factor > 1 {
		l.heard.faster = factor
	}
	return factor
}

// aliased is a pattern that a whole engine shows at a multiple of its speed.
type aliased struct {
	pattern finding.Pattern
	factor  int
	slowest engine.RPM // at which the whole engine may turn
	price   float64    // by which it must beat the best pattern
}

// aliasesOf lists them: one pulse, short or long, in every so many slots. Where
// an engine could run on what is left, both say the same, and one that is whole
// and slow is far likelier.
func aliasesOf(n int) []aliased {
	var out []aliased
	for k := 2; k <= n; k++ {
		for run := 1; n%k == 0 && run <= (k+1)/2 && (k < n || run < n-1); run++ {
			a := aliased{everyOnly(n, k, run), k, slowestAlias, aliasMargin}
			if idles(a.pattern) {
				a.slowest, a.price = slowestPair, 0
			}
			out = append(out, a)
		}
	}
	return out
}

// typed reports whether somebody said that the engine turns so fast.
func (l *Listener) typed(speed engine.RPM) bool {
	hint := l.config.Speed
	return hint > 0 && math.Abs(math.Log(float64(speed/hint))) < math.Log(trustedSpeeds)
}

// fastestWarm is the speed above which hardly a warm engine idles. Judgement.
const fastestWarm = engine.RPM(1100)

// likeIdlingThree reports whether a pattern at a speed may as well be a whole
// three at a third of it: one long pulse for two firings and a pause.
func (h *heard) likeIdlingThree(speed engine.RPM, p finding.Pattern) bool {
	return !h.motion && !h.typed && h.layout.Even() && h.layout.N() == 3 && count(p) == 1 && speed >= 3*slowestPair && speed <= 3*fastestWarm
}

// slowestRead is the speed below which the sample rate is wrong rather than the
// engine slow. Judgement.
const slowestRead = engine.RPM(400)

// likeSlowPair reports whether what sounds whole turns so slowly that it may as
// well be an engine at twice the speed, on every other firing.
func (h *heard) likeSlowPair(speed engine.RPM) bool {
	return !h.motion && !h.typed && h.layout.Even() && h.layout.N() == 4 && speed >= slowestRead && speed < slowestPair
}

// tooSlow reports whether no engine idles at a speed: what sounds whole there may
// be one at twice of it, with firings lost at random.
func (h *heard) tooSlow(speed engine.RPM) bool { return !h.motion && !h.typed && speed < slowestRead }

// everyOnly is the pattern in which only a run of slots in every k is left.
func everyOnly(n, k, run int) finding.Pattern {
	p := finding.AllWork(n)
	for i := range n {
		if i%k >= run {
			p = p.With(i, finding.Dead)
		}
	}
	return p
}
