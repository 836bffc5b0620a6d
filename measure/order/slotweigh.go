package order

import (
	"math"

	"halforder/finding"
)

// slotWeigher weighs patterns by slot when one slot fell quiet in a cut.
type slotWeigher struct {
	slot   int
	table  *table
	known  []*table // as knowing; nil: nothing is known
	shares [][]float64
	bass   []bassShares
	byLow  bool
}

// slotWeigher of slot j; the last one stands for none.
func (t *table) slotWeigher(f *folded, re replay, j int, byLow bool) slotWeigher {
	w := slotWeigher{slot: j, table: t, byLow: byLow}
	if j < len(re.during) && len(re.during[j]) >= heldCycles {
		w.shares, w.bass = re.shares[j], re.bass[j]
	}
	if j < len(re.during) && !byLow {
		w.known = t.knowing(f, re.during[j], j)
	}
	return w
}

// pattern is the log-likelihood of a pattern by slot, less that of all working:
// by the loudness of the firings alone, as long as nothing is known of the cut; by
// the same against what the cut took away; with the waves of the bass; by these
// alone.
func (w slotWeigher) pattern(p finding.Pattern) (heard, taken, told, bass float64) {
	heard = w.loudness(w.table.bands(p))
	taken, told, bass = math.Inf(-1), math.Inf(-1), math.Inf(-1)
	works, weights := [][]float64{workOf(p)}, []float64{1}
	if w.known != nil {
		works, weights = weakWorks(p)
	}
	for i, work := range works {
		dead, share := p.Count(finding.Dead), math.Log(weights[i])
		loud, wave := share+w.taken(work, dead), w.wave(work, dead)
		taken, told, bass = logAdd(taken, loud), logAdd(told, loud+wave), logAdd(bass, share+wave)
	}
	return heard, taken, told, bass
}

func (w slotWeigher) loudness(views [][]float64) float64 {
	low, high := w.table.both(views)
	if w.byLow {
		return low
	}
	return high
}

// taken weighs the work of the slots by the loudness of the firings against what
// the cut took away.
func (w slotWeigher) taken(work []float64, dead int) float64 {
	if w.known != nil {
		known := w.known[0]
		if work[(w.slot+len(work)-1)%len(work)] == 0 {
			known = w.known[1]
		}
		_, high := known.both(known.relative(work))
		return high
	}
	v := w.loudness(w.table.relative(work))
	if w.shares != nil {
		v = (v + shareLikelihood(w.shares[dead], work)) / 2
	}
	return v
}

// wave weighs it by the waves of the bass.
func (w slotWeigher) wave(work []float64, dead int) float64 {
	if dead >= len(w.bass) {
		return 0
	}
	return w.bass[dead].logLikelihood(work)
}

// weigher weighs the work by cylinder, the cut one at a position of the firing
// order.
func (w slotWeigher) weigher(at int) weigher {
	return func(work []float64) float64 {
		n := len(work)
		own := make([]float64, n)
		for k := range own {
			own[k] = work[(k+at-w.slot+n)%n]
		}
		v := w.taken(own, 0)
		if !w.byLow {
			v += w.wave(own, 0)
		}
		return v
	}
}

// bassDoubt is the logarithm of by how much the bass, whose way changes with the
// speed, may contradict without meaning it. Judgement.
const bassDoubt = 2.0

// cutWorks is how likely a cylinder that somebody cuts to compare with is weak,
// against another: where its slot was quiet before, the count has rather slipped.
// Judgement (prior).
const cutWorks = 0.1

// clash is the logarithm of how badly two opinions on the patterns agree, 0 where
// they do: of the chance of both from one pattern to that of both from any.
func clash(first, second, both map[finding.Pattern]float64) float64 {
	nothing := map[finding.Pattern]float64{}
	for p := range both {
		nothing[p] = 0
	}
	return min(0, evidenceFor(both)-evidenceFor(first)-evidenceFor(second)+evidenceFor(nothing)+bassDoubt)
}
