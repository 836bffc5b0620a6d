package cutout

import (
	"math"

	"halforder/engine"
	"halforder/finding"
)

// How often a cut is not what was called: another cylinder, or none at all because
// the connector stayed on, though somebody said it was off (judgement).
const (
	wrongCylinderP = 0.01
	noCutP         = 0.001
	unsureNoCutP   = 0.1 // when nobody confirmed it
)

// noCut is the chance that nothing was taken off at cut c.
func noCut(c Cut) float64 {
	if c.Unsure {
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

// weigher turns the effects of all channels into likelihoods of patterns. What a
// cylinder does, whether the right one was taken off, and what came in between is
// one truth for all of them: it is summed over once, and not by each channel for
// itself, which would count a connector that stayed on twice.
type weigher struct {
	layout   engine.Layout
	cuts     []Cut
	channels []channel
	scales   []scaling
	blocks   []block
	parts    [][][]float64 // by block and its states: likelihood at each scaling
}

// scaling is one size of a healthy cylinder's effect for each channel, by its
// place in the channel's scales, and how likely they are beforehand.
type scaling struct {
	at   []int
	logP float64
}

func newWeigher(l engine.Layout, cuts []Cut, channels []channel, scales []scaling, mix [3]float64) *weigher {
	w := &weigher{layout: l, cuts: cuts, channels: channels, scales: scales}
	for _, b := range blocksOf(cuts) {
		if len(b.cylinders) <= largestBlock {
			w.blocks = append(w.blocks, b)
		}
	}
	for _, b := range w.blocks {
		w.parts = append(w.parts, w.weighBlock(b, mix))
	}
	return w
}

// byScale is ln P(effects | pattern) at each scaling, with how likely that is.
func (w *weigher) byScale(p finding.Pattern) []float64 {
	total := make([]float64, len(w.scales))
	for g, s := range w.scales {
		total[g] = s.logP
	}
	for i, b := range w.blocks {
		states := 0
		for _, c := range b.cylinders {
			states = states*len(stateStrengths) + stateIndex(p[w.layout.Position(c)])
		}
		for g, v := range w.parts[i][states] {
			total[g] += v
		}
	}
	return total
}

// log is ln P(effects | pattern), summed over what a healthy cylinder's effect
// may be.
func (w *weigher) log(p finding.Pattern) float64 { return logSum(w.byScale(p)) }

// weighBlock is ln P(effects of the block's cuts | states) for all states of its
// cylinders and each scaling.
func (w *weigher) weighBlock(b block, mix [3]float64) [][]float64 {
	many := 1
	for range b.cylinders {
		many *= len(stateStrengths)
	}
	out := make([][]float64, many)
	for i := range out {
		out[i] = make([]float64, len(w.scales))
	}
	tables := make([]effectTable, len(b.cuts))
	for n, i := range b.cuts {
		tables[n] = w.table(i)
	}
	for g, s := range w.scales {
		x := blockSum{block: b, own: make([]int, len(b.cylinders)), chosen: make([]float64, len(b.cylinders))}
		for n, i := range b.cuts {
			here := tables[n].at(s)
			x.effects = append(x.effects, here)
			x.sure = append(x.sure, 1-wrongCylinderP-noCut(w.cuts[i]))
			x.other = append(x.other, noCut(w.cuts[i])*here[0]+wrongCylinderP*here.expected(mix))
			x.members = append(x.members, b.members(w.cuts[i]))
		}
		for k := range out {
			rest := k
			for j := len(x.own) - 1; j >= 0; j-- {
				x.own[j], rest = rest%len(stateStrengths), rest/len(stateStrengths)
			}
			out[k][g] = logOf(x.over(0))
		}
	}
	return out
}

// members are the places in the block of a cut's cylinders.
func (b block) members(c Cut) (out []int) {
	for _, k := range c.Cylinders {
		out = append(out, b.place(k))
	}
	return out
}

// blockSum sums the likelihood of a block's cuts over the strengths of its
// cylinders, at one scaling.
type blockSum struct {
	block
	own     []int     // states of the cylinders
	chosen  []float64 // their strengths
	effects []effects // by cut
	sure    []float64 // chance that the cut was of what was called
	other   []float64 // likelihood with the chance that it was not
	members [][]int
}

func (x *blockSum) over(j int) (sum float64) {
	if j < len(x.own) {
		s := stateStrengths[states[x.own[j]]]
		for i, p := range s.p {
			x.chosen[j] = s.w[i]
			sum += p * x.over(j+1)
		}
		return sum
	}
	p := 1.0
	for n, members := range x.members {
		var taken float64
		for _, m := range members {
			taken += x.chosen[m]
		}
		p *= x.sure[n]*x.effects[n].of(taken) + x.other[n]
	}
	return p
}
