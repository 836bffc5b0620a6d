package order

import (
	"fmt"
	"math"

	"halforder/finding"
)

// replayTrusted is the chance that the replay of a cut did not go astray.
// Judgement (prior).
const replayTrusted = 0.97

const (
	fallTrusted = 0.60 // where the speed fell too deep. Judgement
	fallMargin  = 0.80
	calmFall    = 0.93 // idle hunts less than this within seconds
)

// deepFall is the speed, against that before the cut, below which the firings
// cannot be counted through it: the longest gap between two of them then lasts
// as long as one with another firing missing. Derived, with a margin.
func deepFall(p finding.Pattern, cut int) float64 {
	run, longest := 0, 0
	for k := range 2 * len(p) {
		run++
		if k%len(p) != cut && finding.State(p[k%len(p)]) != finding.Dead {
			run = 0
		}
		longest = max(longest, min(run, len(p)-1))
	}
	return 1 - fallMargin/float64(longest+1)
}

// likeliest is the pattern with the most weight, priors counted.
func likeliest(log map[finding.Pattern]float64) finding.Pattern {
	var best finding.Pattern
	top := math.Inf(-1)
	for p, v := range log {
		if v += namedPrior(p); v > top || best == "" || v == top && p < best {
			best, top = p, v
		}
	}
	return best
}

// flat weighs every turn of a pattern alike.
func flat(log map[finding.Pattern]float64) map[finding.Pattern]float64 {
	out := map[finding.Pattern]float64{}
	for p := range log {
		var all []float64
		for _, q := range rotations(p) {
			all = append(all, log[q])
		}
		out[p] = logMean(all)
	}
	return out
}

// byReplay weighs the patterns by cylinder with the slot that falls quiet when
// a known cylinder is cut, and says what stands in the way. It gives nil where
// that is everything.
func (h *heard) byReplay(r reel, before []cycle) (map[finding.Pattern]float64, string) {
	last := before[max(0, len(before)-stretchCycles):]
	f := h.folded(last)
	table := newTable(weigh(f), h.ratioOf(f), h.layout.N())
	byLow := len(table.high) == 0
	if byLow && len(table.low) == 0 {
		return nil, fmt.Sprintf("no band is clear enough to follow the cut of cylinder %d: record nearer, with less noise", r.Cylinder)
	}
	view, bands := table.views[0], []int{0}
	if !byLow {
		view, bands = table.high[0], f.clearUppers()
	}
	n := h.layout.N()
	re, ok := r.rerun(before, bands, scaledStarts(view.starts), n)
	if !ok {
		return nil, fmt.Sprintf("the engine ran too unsteadily before the cut of cylinder %d to follow it: let it idle for 10 s first", r.Cylinder)
	}
	patterns := namedPatterns(n)
	known, astray := map[finding.Pattern]float64{}, map[finding.Pattern]float64{}
	at := h.layout.Position(r.Cylinder)
	gone := chances(re.gone)
	for _, p := range patterns {
		astray[p] = table.named(p, make([]float64, n), byLow)
		known[p] = math.Inf(-1)
	}
	for j := range gone {
		when := h.whenGone(re, j, at, astray, table, byLow)
		all := evidenceFor(when)
		for p, v := range when {
			known[p] = logAdd(known[p], gone[j]+v-all)
		}
	}
	if gone[n] > math.Log(0.5) && re.fall < calmFall {
		return flat(astray), fmt.Sprintf("the speed fell in the cut of cylinder %d, yet no firing was heard to go: cut another one, or record nearer", r.Cylinder)
	}
	if re.fall < deepFall(likeliest(known), at) {
		note := fmt.Sprintf("the speed fell by %.0f %% in the cut of cylinder %d: too much to be sure which firing is whose; raise the idle to 1200 rpm and cut it again", 100*(1-re.fall), r.Cylinder)
		return pooled(known, astray, fallTrusted), note
	}
	return pooled(known, astray, replayTrusted), ""
}

// whenGone weighs the patterns that go with slot j falling quiet; those in which
// the cut cylinder is dead go with none.
func (h *heard) whenGone(re replay, j, at int, astray map[finding.Pattern]float64, t *table, byLow bool) map[finding.Pattern]float64 {
	out := map[finding.Pattern]float64{}
	for p, v := range astray {
		dead := finding.State(p[at]) == finding.Dead
		switch {
		case j == len(p) && dead:
			out[p] = v
		case j < len(p) && !dead && re.shares[j] != nil:
			_, low := t.anonymous(p, byLow)
			out[p] = low + shareLikelihood(re.shares[j][p.Count(finding.Dead)], workOf(p.Rotate(at-j)))
		}
	}
	return out
}

// anonymous gives the log-likelihood of a pattern up to rotation from the views
// that name somebody, and from the others.
func (t *table) anonymous(p finding.Pattern, byLow bool) (these, others float64) {
	var a, b []float64
	for k := range p {
		l, u := t.both(t.bands(p.Rotate(-k)))
		if byLow {
			l, u = u, l
		}
		a, b = append(a, u), append(b, l)
	}
	return logMean(a), logMean(b)
}

// pooled joins two opinions, each a log-likelihood by pattern, of which the
// first is right with a chance of share.
func pooled(first, second map[finding.Pattern]float64, share float64) map[finding.Pattern]float64 {
	a, b := evidenceFor(first), evidenceFor(second)
	out := map[finding.Pattern]float64{}
	for p := range second {
		out[p] = logAdd(math.Log(share)+first[p]-a, math.Log(1-share)+second[p]-b)
	}
	return out
}

// evidenceFor is the log-likelihood of all patterns together, priors counted.
func evidenceFor(log map[finding.Pattern]float64) float64 {
	sum := math.Inf(-1)
	for p, v := range log {
		sum = logAdd(sum, v+namedPrior(p))
	}
	return sum
}

// chances turns log-likelihoods into log-chances.
func chances(log []float64) []float64 {
	total := logSum(log)
	out := make([]float64, len(log))
	for i, v := range log {
		out[i] = v - total
	}
	return out
}

// clearUppers lists the upper bands that hear the engine.
func (f *folded) clearUppers() []int {
	var out []int
	for _, v := range viewsOf(len(f.bands), f.harmonics, f.layout.N()) {
		if !v.low && f.bands[v.band].clarity(v, f.layout.N()) >= clearView {
			out = append(out, v.band)
		}
	}
	return out
}

func scaledStarts(starts []int) []int {
	var out []int
	for _, s := range starts {
		out = append(out, s*placesPerFiring/perSlot)
	}
	return out
}
