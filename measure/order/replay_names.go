package order

import (
	"fmt"
	"math"

	"halforder/finding"
)

// replayTrusted is the chance that the replay of a cut did not go astray.
// Judgement (prior).
const replayTrusted = 0.97

// calmFall is how far the speed falls at most, against that before, without a
// cause: idle hunts less within seconds. Judgement.
const calmFall = 0.93

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
	f, table := h.steady(inStep(before, len(h.bands), h.harmonics, h.layout.N()))
	byLow := len(table.high) == 0
	if byLow && len(table.low) == 0 {
		return nil, fmt.Sprintf("no band is clear enough to follow the cut of cylinder %d: record nearer, with less noise", r.Cylinder)
	}
	if table.unsteady() {
		return nil, unsteadyNote(r)
	}
	view, bands := table.views[0], []int{0}
	if !byLow {
		view, bands = table.high[0], f.clearUppers()
	}
	n := h.layout.N()
	table = table.soundsOn()
	re, ok := r.rerun(f, bands, scaledStarts(view.cut.starts), table.expectedWork(byLow))
	if !ok {
		return nil, unsteadyNote(r)
	}
	patterns := namedPatterns(n)
	known, astray := map[finding.Pattern]float64{}, map[finding.Pattern]float64{}
	at := h.layout.Position(r.Cylinder)
	gone := chances(re.gone)
	for _, p := range patterns {
		astray[p] = table.named(p, make([]float64, n), byLow)
		known[p] = math.Inf(-1)
	}
	weights, agreed := make([]float64, len(gone)), make([]float64, len(gone))
	weighers := make([]slotWeigher, len(gone))
	for j := range gone {
		weighers[j] = table.slotWeigher(f, re, j, byLow)
		heard, clash := weighers[j].whenGone(at, patterns)
		weights[j] = gone[j] + evidenceFor(heard)
		agreed[j] = weights[j] + clash
		for p, v := range heard {
			known[p] = logAdd(known[p], gone[j]+clash+v)
		}
	}
	if gone[n] > math.Log(0.5) && re.fall < calmFall {
		return flat(astray), fmt.Sprintf("the speed fell in the cut of cylinder %d, yet no firing was heard to go: cut another one, or record nearer", r.Cylinder)
	}
	if best := loudest(gone); best < n {
		h.weighers = append(h.weighers, weighers[best].weigher(at))
	}
	h.placeByCut(r, f, table, agreed, byLow)
	note := ""
	if re.died {
		note = diedNote(r.Cut)
	}
	return pooled(known, astray, replayTrusted*math.Exp(logSum(agreed)-logSum(weights))), note
}

func unsteadyNote(r reel) string {
	return fmt.Sprintf("the engine ran too unsteadily before the cut of cylinder %d to follow it: let it idle for 10 s first, at 1200 rpm if it lurches, and cut it again", r.Cylinder)
}

// steady takes the newest of the cycles before a cut, fewer where the firings of
// more of them do not agree with each other.
func (h *heard) steady(before []cycle) (*folded, *table) {
	before = before[max(0, len(before)-stretchCycles):]
	for {
		f := h.folded(before)
		t := newTable(weigh(f), h.ratioOf(f), h.layout.N())
		if !t.unsteady() || len(before) < 2*steadyCycles {
			return f, t
		}
		before = before[len(before)/2:]
	}
}

const (
	steadyCycles = 12   // fewer are too few
	steadySpread = 0.09 // error of the firings' strengths above which the lock slipped meanwhile. Judgement
)

// unsteady reports whether the strengths of the firings changed so much within
// the run that it is none of one phase.
func (t *table) unsteady() bool {
	var all []float64
	for _, e := range t.high {
		all = append(all, mean(e.spread))
	}
	return len(all) > 0 && median(all) > steadySpread
}

// whenGone weighs the patterns that go with the slot falling quiet; those in which
// the cut cylinder, at a position of the firing order, is dead go with none. Where
// the loudness of the firings and the bass tell of different patterns, clash says
// how badly: a sign that another slot fell quiet.
func (w slotWeigher) whenGone(at int, patterns []finding.Pattern) (log map[finding.Pattern]float64, clashes float64) {
	log = map[finding.Pattern]float64{}
	heard, bass, taken := map[finding.Pattern]float64{}, map[finding.Pattern]float64{}, map[finding.Pattern]float64{}
	for _, p := range patterns {
		dead := finding.State(p[at]) == finding.Dead
		_, low := w.table.anonymous(p, w.byLow)
		switch {
		case w.slot == len(p) && dead:
			log[p] = w.table.named(p, make([]float64, len(p)), w.byLow) - math.Log(float64(len(p)))
		case w.slot < len(p) && !dead:
			var told float64
			heard[p], taken[p], told, bass[p] = w.pattern(p.Rotate(at - w.slot))
			if finding.State(p[at]) == finding.Weak {
				low += math.Log(cutWorks)
			}
			heard[p], taken[p], log[p] = low+heard[p], low+taken[p], low+told
		}
	}
	if len(heard) == 0 {
		return log, 0
	}
	more := evidenceFor(heard) - evidenceFor(log)
	clashes = clash(taken, bass, log)
	for p := range log {
		log[p] += more
	}
	return log, clashes
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
