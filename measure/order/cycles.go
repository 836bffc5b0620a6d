package order

import (
	"math"
	"math/cmplx"
	"slices"
)

// misses is what single cycles show of one stretch.
type misses struct {
	known  bool
	share  float64 // of the cycles that miss: between the next two
	least  float64 // of those in which the clearest slot is quiet
	most   float64 // of those in which any is; a miss unsettles its neighbours too
	cycles int
	bursts float64 // correlation of a miss with one in the next cycle
	proof  float64 // ln of two kinds of cycles to one kind, for the clearest slot
}

const (
	quietest25  = 0.6  // a miss leaves less than this of a firing
	apartSpread = 2.5  // spreads between the two kinds of cycles, to count them
	proofCount  = 12.0 // proof from which the two kinds are counted
	proofAccuse = 40.0 // and from which they alone accuse
	leastMisses = 3.0  // cycles: one or two may be a stumble of the recording
	emRounds    = 40
)

// countMisses looks for cycles in which a slot falls quiet and cycles in which
// it does not.
func (h *heard) countMisses(f *folded) misses {
	n, cycles := h.layout.N(), f.cycles
	strengths := f.cycleStrengths()
	if len(strengths) == 0 {
		return misses{}
	}
	out := misses{cycles: len(cycles)}
	any, worst := make([]bool, len(cycles)), make([]bool, len(cycles))
	for k := range n {
		values := column(strengths, k)
		m, ok := twoKinds(values)
		if !ok {
			continue
		}
		clearest := m.proof > out.proof
		out.known, out.proof = true, max(out.proof, m.proof)
		for c, v := range values {
			quiet := m.quiet(v) > 0.5
			any[c] = any[c] || quiet
			if clearest {
				worst[c] = quiet
			}
		}
	}
	if !out.known {
		return out
	}
	all, _ := shareAndBursts(any)
	out.least, out.bursts = shareAndBursts(worst)
	out.share, out.most = (out.least+all)/2, all
	return out
}

func column(rows [][]float64, k int) []float64 {
	out := make([]float64, len(rows))
	for c := range out {
		out[c] = rows[c][k]
	}
	return out
}

// cycleStrengths gives the strength of every slot in every cycle: the upper
// views added, each by how little it scatters. Nil when none is clear.
func (f *folded) cycleStrengths() [][]float64 {
	n := f.layout.N()
	out := make([][]float64, len(f.cycles))
	for c := range out {
		out[c] = make([]float64, n)
	}
	var total float64
	first, haveFirst := 0.0, false
	for _, v := range viewsOf(len(f.bands), f.harmonics, n) {
		if v.low || f.bands[v.band].clarity(v, n) < clearView {
			continue
		}
		cut := newCut(f.activity(v), f.layout, v.power)
		if !haveFirst {
			first, haveFirst = cut.pulse(), true
		}
		turn := 0
		if f.layout.Even() {
			turn = int(math.Round(cut.pulse() - first))
		}
		total += f.addView(out, v, cut, turn)
	}
	if total == 0 {
		return nil
	}
	for _, row := range out {
		for k := range row {
			row[k] /= total
		}
	}
	return out
}

// addView adds one view's strengths, weighted, and returns the weight.
func (f *folded) addView(out [][]float64, v view, cut cut, turn int) float64 {
	n := f.layout.N()
	rows := make([][]float64, len(f.cycles))
	filter := cut.filter(f.harmonics, perSlot*n)
	for c, one := range f.cycles {
		rows[c] = filter.strengths(one.phasors[v.band*f.harmonics:][:f.harmonics])
	}
	scatter := make([]float64, n)
	for k := range n {
		var sum, square float64
		for _, r := range rows {
			sum += r[k]
			square += r[k] * r[k]
		}
		mean := sum / float64(len(rows))
		scatter[k] = square/float64(len(rows)) - mean*mean
	}
	weight := 1 / max(median(scatter), 1e-6)
	for c, r := range rows {
		for k := range n {
			out[c][((k+turn)%n+n)%n] += weight * r[k]
		}
	}
	return weight
}

// slotFilter takes the strengths of the slots straight from the phasors of a
// cycle, as cut.strengths does from its curve.
type slotFilter struct {
	weights [][]complex64 // by slot and harmonic
	offset  float64
	norm    float64
}

// filter of an upper view's cut, for curves of so many points.
func (c cut) filter(harmonics, points int) slotFilter {
	f := slotFilter{weights: make([][]complex64, len(c.starts)), norm: c.norm}
	for _, d := range c.shape {
		f.offset += d * c.base
	}
	for h := 1; h <= harmonics; h++ {
		angle := 2 * math.Pi * float64(h) / float64(points)
		var shape complex128
		for i, d := range c.shape {
			shape += complex(2*d, 0) * cmplx.Rect(1, angle*float64(i))
		}
		for k, start := range c.starts {
			f.weights[k] = append(f.weights[k], complex64(shape*cmplx.Rect(1, angle*float64(start))))
		}
	}
	return f
}

func (f slotFilter) strengths(phasors []complex64) []float64 {
	s := make([]float64, len(f.weights))
	for k, weights := range f.weights {
		var sum float32
		for h, w := range weights {
			p := phasors[h]
			sum += real(p)*real(w) - imag(p)*imag(w)
		}
		s[k] = float64(sum) - f.offset
	}
	return scaled(s, f.norm)
}

// mixture is two kinds of cycles: those that fire and those that miss.
type mixture struct {
	fires, misses, spread, share float64
	proof                        float64
}

// quiet is the chance that a value is of a miss.
func (m mixture) quiet(v float64) float64 {
	a, b := (v-m.misses)/m.spread, (v-m.fires)/m.spread
	return 1 / (1 + (1-m.share)/m.share*math.Exp((a*a-b*b)/2))
}

// twoKinds fits a mixture of two normal laws of one spread and reports whether
// there are two kinds of cycles for sure, the quieter one nearly nothing.
func twoKinds(values []float64) (mixture, bool) {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	m := mixture{fires: sorted[n*9/10], misses: sorted[n/10], share: 0.5}
	one := spreadOf(values, mean(values))
	m.spread = max(one/2, 1e-6)
	for range emRounds {
		var weight, low, high, square float64
		for _, v := range values {
			q := m.quiet(v)
			weight += q
			low += q * v
			high += (1 - q) * v
			square += q*(v-m.misses)*(v-m.misses) + (1-q)*(v-m.fires)*(v-m.fires)
		}
		if weight < 1 || weight > float64(n)-1 {
			return mixture{}, false
		}
		m.share = weight / float64(n)
		m.misses, m.fires = low/weight, high/(float64(n)-weight)
		m.spread = max(math.Sqrt(square/float64(n)), 1e-6)
	}
	m.proof = m.logLikelihood(values) - oneKind(values, one) - math.Log(float64(n))
	ok := m.proof > proofCount && m.fires-m.misses > apartSpread*m.spread && m.misses < quietest25*m.fires
	if !ok {
		m.proof = 0
	}
	return m, ok
}

func (m mixture) logLikelihood(values []float64) float64 {
	var sum float64
	for _, v := range values {
		a, b := (v-m.misses)/m.spread, (v-m.fires)/m.spread
		sum += logAdd(math.Log(m.share)-a*a/2, math.Log(1-m.share)-b*b/2) - math.Log(m.spread)
	}
	return sum
}

func oneKind(values []float64, spread float64) float64 {
	return -float64(len(values)) * (0.5 + math.Log(max(spread, 1e-6)))
}

func spreadOf(values []float64, mean float64) float64 {
	var sum float64
	for _, v := range values {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(values)))
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

// joinMisses averages stretches; steady counts for a stretch that shows but one
// kind of cycle.
func joinMisses(parts []stretch, steady float64) misses {
	var out misses
	for _, p := range parts {
		m := p.misses
		if !m.known {
			m = misses{share: steady, least: steady, most: steady, cycles: p.cycles}
		}
		w := float64(p.cycles)
		out.known = out.known || m.known
		out.proof = max(out.proof, m.proof)
		out.share += m.share * w
		out.least += m.least * w
		out.most += m.most * w
		out.bursts += m.bursts * w
		out.cycles += p.cycles
	}
	w := float64(max(out.cycles, 1))
	out.share, out.least, out.most, out.bursts = out.share/w, out.least/w, out.most/w, out.bursts/w
	return out
}

// interval bounds the share: the counting error, and what cannot be told of the
// neighbours of a miss.
func (m misses) interval() (low, high float64) {
	err := 1.645*math.Sqrt(max(m.share*(1-m.share), 0)/float64(max(m.cycles, 1))) + 0.03
	return max(0, m.least*0.6-err), min(1, m.most*1.1+err)
}

// words say how the misses come.
func (m misses) words() string {
	switch {
	case !m.known:
		return "steadily"
	case m.bursts > burstSign:
		return "now and then, in bursts"
	}
	return "now and then, at random"
}

// burstSign is the correlation of neighbouring cycles that makes a burst; a
// miss unsettles the cycle after it, which alone gives some 0.3.
const burstSign = 0.5
