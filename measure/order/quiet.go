package order

import (
	"fmt"
	"math"

	"halforder/finding"
)

// quietSlots is what single cycles of one stretch show, slot by slot, where the
// lock held its phase: the plain way to count misses that slow the engine too
// little to part the cycles into two kinds.
type quietSlots struct {
	uneven bool // some slot may be of two kinds: worth the costly question
	known  bool
	share  float64 // of the cycles that miss: between the next two
	least  float64 // of those in which the clearest slot is quiet
	most   float64 // of those in which any is; a miss unsettles its neighbours too
	cycles int
	bursts float64 // correlation of a miss with one in the next cycle
	faint  float64 // share of the firings that are faint in the bass, where none is missing on average
	proof  float64 // ln of two kinds of cycles to one kind, for the clearest slot
}

const (
	quietest25  = 0.6  // a miss leaves less than this of a firing
	apartSpread = 2.5  // spreads between the two kinds of cycles, to count them
	unevenProof = 3.0  // ln, from which the stretch is uneven
	proofCount  = 12.0 // from which the two kinds are counted
	proofAccuse = 40.0 // and from which they alone accuse
)

// countQuiet looks for cycles in which a slot falls quiet and cycles in which
// it does not.
func (f *folded) countQuiet() quietSlots {
	out := quietSlots{cycles: len(f.cycles)}
	strengths := f.cycleStrengths()
	if len(strengths) == 0 {
		return out
	}
	any, worst := make([]bool, len(f.cycles)), make([]bool, len(f.cycles))
	for k := range f.layout.N() {
		values := column(strengths, k)
		m, ok := mixtureOf(values)
		if !ok {
			continue
		}
		proof := m.proof(values)
		out.uneven = out.uneven || proof > unevenProof
		if proof <= proofCount || m.fires-m.misses <= apartSpread*m.spread || m.misses >= quietest25*m.fires {
			continue
		}
		clearest := proof > out.proof
		out.known, out.proof = true, max(out.proof, proof)
		for c, v := range values {
			quiet := m.quiet(v) > 0.5
			any[c] = any[c] || quiet
			if clearest {
				worst[c] = quiet
			}
		}
	}
	if out.known {
		all, _ := shareAndBursts(any)
		out.least, out.bursts = shareAndBursts(worst)
		out.share, out.most = (out.least+all)/2, all
	}
	return out
}

// shareAndBursts is the share of true and the correlation of neighbours.
func shareAndBursts(missed []bool) (share, correlation float64) {
	n := float64(len(missed))
	var hits, both float64
	for c, m := range missed {
		if m {
			hits++
			if c > 0 && missed[c-1] {
				both++
			}
		}
	}
	share = hits / n
	if share <= 0 || share >= 1 {
		return share, 0
	}
	return share, (both/(n-1) - share*share) / (share * (1 - share))
}

// joinQuiet averages stretches; steady counts for a stretch that shows but one
// kind of cycle.
func joinQuiet(parts []stretch, steady float64) quietSlots {
	var out quietSlots
	for _, p := range parts {
		q := p.quiet
		if !q.known {
			q.share, q.least, q.most = steady, steady, steady
		}
		w := float64(q.cycles)
		out.faint += q.faint * w
		out.known = out.known || q.known
		out.proof = max(out.proof, q.proof)
		out.share += q.share * w
		out.least += q.least * w
		out.most += q.most * w
		out.bursts += q.bursts * w
		out.cycles += q.cycles
	}
	w := float64(max(out.cycles, 1))
	out.share, out.least, out.most, out.bursts = out.share/w, out.least/w, out.most/w, out.bursts/w
	out.faint /= w
	return out
}

// interval bounds the share: the counting error, and what cannot be told of the
// neighbours of a miss.
func (q quietSlots) interval() (low, high float64) {
	err := 1.645*math.Sqrt(max(q.share*(1-q.share), 0)/float64(max(q.cycles, 1))) + 0.03
	return max(0, q.least*0.6-err), min(1, q.most*1.1+err)
}

// proven reports whether cycles with a quiet slot are certain.
func (q quietSlots) proven() bool {
	return q.known && q.proof >= proofAccuse && q.least*float64(q.cycles) >= leastMisses
}

// rareShare is the share of cycles with a quiet firing below which an engine
// that is even on average is called healthy all the same. Judgement.
const rareShare = 0.05

// addQuiet says how the misses come by quiet slots. Against what the mean of all
// cycles says they accuse nobody: a recorder's gain control, a slip of the speed
// or a loud valve also makes quiet slots.
func (h *heard) addQuiet(f *finding.Finding, parts []stretch, j judgement) {
	steady := 0.0
	if f.Verdict == finding.Misfire {
		steady = 1
	}
	q, speed := joinQuiet(parts, steady), h.total.speed()
	switch {
	case f.Verdict == finding.Misfire && q.known && tooRare(q.share, j):
		q = quietSlots{share: 1, least: 1, most: 1, cycles: q.cycles}
	case f.Verdict == finding.Misfire:
	case q.proven() || q.known && f.Verdict == finding.NoMisfire && q.share >= rareShare:
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Cannot tell: at %.0f rpm no firing is missing on average, yet about %.0f %% of the cycles have a quiet one; record again, longer and nearer.", speed, 100*q.share)
	case f.Verdict == finding.NoMisfire && q.faint >= rareShare:
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Cannot tell: at %.0f rpm no firing is missing on average, yet in the bass about %.0f %% of the firings are faint; record again, longer and nearer.", speed, 100*q.faint)
	case q.known:
		f.Notes = append(f.Notes, fmt.Sprintf("some %.0f %% of the cycles have a quiet firing; too faint to call it a misfire: record longer, and nearer", 100*q.share))
	}
	if f.Verdict == finding.CannotTell && !q.proven() {
		return
	}
	low, high := q.interval()
	addMissShare(f, misses{sure: q.known, share: q.share, bursts: q.bursts}, low, high)
}
