package order

import (
	"math"

	"halforder/finding"
)

// replayTrusted is the chance that the replay of a cut did not go astray.
// Judgement (prior).
const replayTrusted = 0.97

// byReplay weighs the patterns by cylinder with the slot that falls quiet when
// a known cylinder is cut. It gives nil where no band is clear enough.
func (h *heard) byReplay(r reel, before []cycle) map[finding.Pattern]float64 {
	last := before[max(0, len(before)-stretchCycles):]
	f := h.folded(last)
	table := newTable(weigh(f), h.ratioOf(f), h.layout.N())
	byLow := len(table.high) == 0
	if byLow && len(table.low) == 0 {
		return nil
	}
	view, bands := table.views[0], []int{0}
	if !byLow {
		view, bands = table.high[0], h.clearUppers(last)
	}
	gone := r.slotGone(before, bands, scaledStarts(view.starts), h.layout.N())
	if gone == nil {
		return nil
	}
	gone = trusted(gone, replayTrusted)
	at := h.layout.Position(r.Cylinder)
	turns, any := turnsOf(gone, at), make([]float64, h.layout.N())
	out := map[finding.Pattern]float64{}
	for _, p := range namedPatterns(h.layout.N()) {
		if finding.State(p[at]) == finding.Dead {
			out[p] = gone[len(gone)-1] + table.named(p, any, byLow) - math.Log(float64(h.layout.N()))
		} else {
			out[p] = table.named(p, turns, byLow)
		}
	}
	return out
}

// turnsOf gives the log-chance of each slot to be the first cylinder's, when
// gone holds that of each to be the cut one's.
func turnsOf(gone []float64, at int) []float64 {
	n := len(gone) - 1
	out := make([]float64, n)
	for j, v := range gone[:n] {
		out[((j-at)%n+n)%n] = v
	}
	return out
}

// trusted turns log-likelihoods into log-chances, a part of which is spread
// evenly.
func trusted(log []float64, share float64) []float64 {
	total := math.Inf(-1)
	for _, v := range log {
		total = logAdd(total, v)
	}
	out := make([]float64, len(log))
	for i, v := range log {
		out[i] = math.Log(share*math.Exp(v-total) + (1-share)/float64(len(log)))
	}
	return out
}

// clearUppers lists the upper bands that hear the engine.
func (h *heard) clearUppers(cycles []cycle) []int {
	var out []int
	for _, v := range viewsOf(len(h.bands), h.harmonics, h.layout.N()) {
		if !v.low && fold(cycles, v.band, h.harmonics).clarity(v, h.layout.N()) >= clearView {
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
