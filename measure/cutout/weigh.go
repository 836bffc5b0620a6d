package cutout

import (
	"math"

	"halforder/engine"
	"halforder/finding"
)

// How often a cut is not what was called: another cylinder, or none at all
// because the connector stayed on (judgement).
const (
	wrongCylinderP = 0.01
	noCutP         = 0.004
	unsureNoCutP   = 0.1 // when nobody confirmed it
)

// noCut is the chance that nothing was taken off at cut i.
func (w *weigher) noCut(i int) float64 {
	if w.cuts[i].Unsure {
		return unsureNoCutP
	}
	return noCutP
}

func logOf(p float64) float64 { return math.Log(math.Max(p, 1e-300)) }

// block is a set of cylinders that some cut took together, with all cuts that
// concern them. Given the size of a healthy cylinder's effect, blocks are
// independent.
type block struct {
	cylinders []engine.Cylinder
	cuts      []int
}

// blocksOf joins cylinders that were ever cut together.
func blocksOf(cuts []Cut) []block {
	var out []block
	for i, c := range cuts {
		if len(c.Cylinders) == 0 {
			continue
		}
		b := block{cuts: []int{i}}
		b.add(c.Cylinders)
		rest := out[:0:0]
		for _, other := range out {
			if b.touches(other) {
				b.cuts = append(append([]int(nil), other.cuts...), b.cuts...)
				b.add(other.cylinders)
			} else {
				rest = append(rest, other)
			}
		}
		out = append(rest, b)
	}
	return out
}

func (b *block) add(cylinders []engine.Cylinder) {
	for _, c := range cylinders {
		if b.place(c) < 0 {
			b.cylinders = append(b.cylinders, c)
		}
	}
}

func (b block) touches(o block) bool {
	for _, c := range o.cylinders {
		if b.place(c) >= 0 {
			return true
		}
	}
	return false
}

func (b block) place(c engine.Cylinder) int {
	for i, other := range b.cylinders {
		if other == c {
			return i
		}
	}
	return -1
}

// largestBlock bounds the work: more cylinders cut together than this say
// nothing of each other.
const largestBlock = 3

// weigher turns the effects of one channel into likelihoods of patterns.
type weigher struct {
	layout engine.Layout
	cuts   []Cut
	ch     channel
	blocks []block

	one     [][][3][]float64 // cut, scale, state: density for one cylinder of each strength
	byState [][][3]float64   // cut, scale: the same, for one cylinder of each state
	none    [][]float64      // cut, scale: density when nothing was cut
	memo    map[memoKey][]float64
}

type memoKey struct {
	block, states int
	count         [3]int
}

func newWeigher(l engine.Layout, cuts []Cut, ch channel) *weigher {
	w := &weigher{layout: l, cuts: cuts, ch: ch, memo: map[memoKey][]float64{}}
	for _, b := range blocksOf(cuts) {
		if len(b.cylinders) <= largestBlock {
			w.blocks = append(w.blocks, b)
		}
	}
	for i := range cuts {
		one, row, none := make([][3][]float64, len(ch.scales)), make([][3]float64, len(ch.scales)), make([]float64, len(ch.scales))
		for k, scale := range ch.scales {
			none[k] = ch.density(i, 0, scale)
			for j, s := range states {
				for n, strength := range stateStrengths[s].w {
					one[k][j] = append(one[k][j], ch.density(i, strength, scale))
					row[k][j] += stateStrengths[s].p[n] * one[k][j][n]
				}
			}
		}
		w.one, w.byState, w.none = append(w.one, one), append(w.byState, row), append(w.none, none)
	}
	return w
}

// log is ln P(effects | pattern), summed over what a healthy cylinder's effect
// may be.
func (w *weigher) log(p finding.Pattern) float64 {
	return logSum(w.byScale(p))
}

// byScale is the same before the sum.
func (w *weigher) byScale(p finding.Pattern) []float64 {
	total := append([]float64(nil), w.ch.logP...)
	count := census(p)
	for i, b := range w.blocks {
		key := memoKey{block: i, count: count}
		for _, c := range b.cylinders {
			key.states = key.states*3 + stateIndex(p[w.layout.Position(c)])
		}
		part, ok := w.memo[key]
		if !ok {
			part = w.blockLog(b, p, count)
			w.memo[key] = part
		}
		for k := range total {
			total[k] += part[k]
		}
	}
	return total
}

// blockLog is ln P(effects of the block's cuts | states) for each scale.
func (w *weigher) blockLog(b block, p finding.Pattern, count [3]int) []float64 {
	own := make([]int, len(b.cylinders))
	for j, c := range b.cylinders {
		own[j] = stateIndex(p[w.layout.Position(c)])
		count[own[j]]--
	}
	out := make([]float64, len(w.ch.scales))
	for k := range w.ch.scales {
		other := make([]float64, len(b.cuts))
		for n, i := range b.cuts {
			other[n] = w.otherwise(i, k, count)
		}
		out[k] = logOf(w.integrate(b, own, make([]int, 0, len(own)), k, other))
	}
	return out
}

// otherwise is the density of cut i when it was not the cylinder called: one of
// the rest, or none.
func (w *weigher) otherwise(i, k int, rest [3]int) float64 {
	n := rest[0] + rest[1] + rest[2]
	p := w.noCut(i) * w.none[i][k]
	for s, many := range rest {
		p += wrongCylinderP * float64(many) / float64(max(n, 1)) * w.byState[i][k][s]
	}
	return p
}

// integrate sums over the strengths of the block's cylinders, whose states are
// own, at scale k.
func (w *weigher) integrate(b block, own, chosen []int, k int, other []float64) (sum float64) {
	if j := len(chosen); j < len(own) {
		for i, p := range stateStrengths[states[own[j]]].p {
			sum += p * w.integrate(b, own, append(chosen, i), k, other)
		}
		return sum
	}
	p := 1.0
	for n, i := range b.cuts {
		p *= (1-wrongCylinderP-w.noCut(i))*w.taken(b, own, chosen, i, k) + other[n]
	}
	return p
}

// taken is the density of cut i when its cylinders have the strengths chosen.
func (w *weigher) taken(b block, own, chosen []int, i, k int) float64 {
	set := w.cuts[i].Cylinders
	if len(set) == 1 {
		j := b.place(set[0])
		return w.one[i][k][own[j]][chosen[j]]
	}
	var sum float64
	for _, c := range set {
		j := b.place(c)
		sum += stateStrengths[states[own[j]]].w[chosen[j]]
	}
	return w.ch.density(i, sum, w.ch.scales[k])
}
