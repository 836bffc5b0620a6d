package order

import (
	"math"
	"sort"

	"halforder/signal"
)

const (
	linePrice      = 1.3  // a mean fitted to chance gains 1
	foldMargin     = 0.5  // scores further below the best are not tried
	foldCandidates = 8    // and no more than so many
	foldApart      = 0.02 // ratio within which two peaks are one
	foldTop        = 0.4  // of the frame rate, the highest line counted
)

// foldBest chooses between the best places of a short recording by folding it:
// at the true cycle rate all lines, the half orders too, repeat from cycle to
// cycle; at a fraction or multiple of it some of them do not.
func (l *Listener) foldBest(frames signal.Frames, scores []float64) int {
	best, bestGain := 0, math.Inf(-1)
	for _, k := range peaks(scores) {
		hz := l.comb.hz[k] * (1 + gridStep*peak(scores, k))
		if gain := foldGain(frames, hz) + l.comb.prior[k]; gain > bestGain {
			best, bestGain = k, gain
		}
	}
	return best
}

// peaks lists the local maxima near the best, best first.
func peaks(scores []float64) []int {
	var out []int
	for k := 1; k < len(scores)-1; k++ {
		if scores[k] >= scores[k-1] && scores[k] > scores[k+1] {
			out = append(out, k)
		}
	}
	sort.Slice(out, func(a, b int) bool { return scores[out[a]] > scores[out[b]] })
	n := 0
	for n < len(out) && n < foldCandidates && scores[out[n]] > scores[out[0]]-foldMargin {
		n++
	}
	return out[:n]
}

// foldGain is the log-likelihood of cycles at a rate against unrelated noise,
// less the price of the means it fits: Σ n·ln(total/variance) − 1 − ln n over
// bands and harmonics.
func foldGain(frames signal.Frames, hz float64) float64 {
	top := int(foldTop * frames.Rate / hz) // the same frequencies for all rates
	cycles := fixedCycles(frames, hz, top)
	n := float64(len(cycles))
	if n < 3 {
		return math.Inf(-1)
	}
	var gain float64
	for b := range frames.Rows {
		p := fold(cycles, b, top)
		for h := range top {
			variance := p.noise[h] * (n - 1)
			gain += n*math.Log(1+sq(p.mean[h])/max(variance, 1e-30)) - linePrice
		}
	}
	return gain
}

// fixedCycles cuts the frames at one rate and locks their phase.
func fixedCycles(frames signal.Frames, hz float64, harmonics int) []cycle {
	k := newLock(len(frames.Rows), harmonics)
	length := frames.Rate / hz
	var out []cycle
	for at := 0.0; at+length < float64(frames.Len()); {
		c := cycle{phasors: make([]complex64, len(frames.Rows)*k.harmonics)}
		for b, row := range frames.Rows {
			k.phasorsOf(c.phasors[b*k.harmonics:][:k.harmonics], row, at, length)
		}
		at += length * (1 + k.follow(k.settle(c.phasors)))
		out = append(out, c)
	}
	return out
}
