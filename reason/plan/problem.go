package plan

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// problem is troubleshooting in the abstract: worlds of which one is true,
// checks that tell them apart, and repairs that end faults. All costs are money.
//
// Values are linear in the weights: they are expected costs times the mass.
// Repairs cannot tell worlds apart that need the same ones, so what concerns
// repairs alone is reckoned by kind of world.
type problem struct {
	worlds  [][]faultRef // by world: its faults; a world without any ends only by handing over
	fixers  [][]int      // by fault: the repairs that end it
	repairs []repair
	checks  []check
	handOn  float64 // cost of handing the job over, which reveals the truth
	bit     float64 // price of one bit of knowledge beyond what is looked ahead; 0: none is to be had

	kind    []int32   // by world: its kind
	kinds   [][][]int // by kind: the repairs that end each of its faults
	simple  []simple  // by kind, where all are simple
	byFix   [][]int32 // by repair: the kinds it helps
	own     []float64 // by kind: cost of the repairs it needs anyway
	scratch pool
}

type faultRef int

type repair struct {
	cost     float64 // with its cover off
	opening  float64 // more when the cover is still on
	cover    uint32  // covers it takes off
	needless float64 // more when it was not needed
	withheld bool    // whoever takes the job over may do it, we do not
}

type check struct {
	cost    float64
	opening float64
	cover   uint32
	answers [][]float64 // by answer: chance in each world
}

// state is what has been done so far.
type state struct {
	opened uint32 // covers that are off
	done   []bool // by repair; nil: none
	used   []bool // by check; nil: none
}

func (p *problem) costOf(r *repair, opened uint32) float64 {
	if r.cover&^opened != 0 {
		return r.cost + r.opening
	}
	return r.cost
}

func (c *check) costIn(opened uint32) float64 {
	if c.cover&^opened != 0 {
		return c.cost + c.opening
	}
	return c.cost
}

// repairOnly is the cost of repairing in the order of chance per cost, with the
// best moment to hand over. It is what can be had without any check, and so an
// upper bound of the optimum. first is the repair to begin with, −1 to hand
// over at once.
func (p *problem) repairOnly(w []float64, s state) (cost float64, first int) {
	b := p.buffer()
	defer p.scratch.put(b)
	p.sort(b.weight, w)
	cost, _, first = p.evaluate(b, s)
	return cost, first
}

// estimate is repairOnly, or less where further checks beyond the horizon are
// likely to do better: the repairs needed anyway, and what it usually costs to
// learn which they are. Checks bring knowledge at a price for each bit that
// varies little; the entropy of the repairs says how many bits are missing.
func (p *problem) estimate(w []float64, s state) float64 {
	b := p.buffer()
	defer p.scratch.put(b)
	p.sort(b.weight, w)
	return p.estimateIn(b, s)
}

// estimateAfter is estimate with the weights times the chance of an answer.
func (p *problem) estimateAfter(w, chance []float64, s state) float64 {
	b := p.buffer()
	defer p.scratch.put(b)
	for i, k := range p.kind {
		b.weight[k] += w[i] * chance[i]
	}
	return p.estimateIn(b, s)
}

func (p *problem) estimateIn(b *buffer, s state) float64 {
	plain, beyond, _ := p.evaluate(b, s)
	if p.bit == 0 {
		return plain
	}
	return min(plain, beyond)
}

// sort sums the weights of worlds by kind.
func (p *problem) sort(dst, w []float64) {
	for i, k := range p.kind {
		dst[k] += w[i]
	}
}

// evaluate gives the values of repairOnly and of looking beyond the horizon for
// the weights of kinds in the buffer, which it uses up.
func (p *problem) evaluate(b *buffer, s state) (plain, beyond float64, first int) {
	alive, own := p.startRepairs(s, b)
	if p.bit > 0 {
		beyond = p.beyond(alive, own, b.gain)
	}
	plain, first = p.repairInOrder(alive, own, s.opened, b)
	return plain, beyond, first
}

// beyond is the cost of the repairs needed anyway and of learning which they
// are. What no repair ends is handed over at last.
func (p *problem) beyond(alive, own float64, gain []float64) float64 {
	if alive == 0 {
		return 0
	}
	lost, bits := alive, alive*log2(alive)
	for r, g := range gain {
		if g > 0 && !p.repairs[r].withheld {
			lost -= g
			bits -= g * log2(g)
		}
	}
	if lost > rounding*alive {
		bits -= lost * log2(lost)
		own += lost * p.handOn
	}
	return own + bits*p.bit
}

func (p *problem) repairInOrder(alive, own float64, opened uint32, b *buffer) (best float64, first int) {
	total, first := 0.0, -1
	start, best := alive, alive*p.handOn+own
	for alive > 0 {
		r, share := p.bestRepair(b.gain, alive, opened)
		if r < 0 || share <= 0 {
			break
		}
		c, gain := p.costOf(&p.repairs[r], opened), b.gain[r]
		helps := p.helpedBy(r, b)
		if alive*c+(alive-helps)*p.repairs[r].needless > gain*p.handOn+helps*c {
			break // where it helps it spares its own price, where it ends the job the truth's, and that is too little
		}
		if first < 0 {
			first = r
		}
		ended, helped, spared := p.apply(r, b)
		total += alive*c + (alive-helped)*p.repairs[r].needless
		opened |= p.repairs[r].cover
		alive, own = alive-ended, own-spared
		if alive < rounding*start {
			alive, own = 0, 0
		}
		best = min(best, total+max(alive, 0)*p.handOn+max(own, 0))
	}
	return best, first
}

// rounding is what is left of a mass when everything has been taken from it.
const rounding = 1e-12

// bestRepair has the greatest chance per cost.
func (p *problem) bestRepair(gain []float64, alive float64, opened uint32) (int, float64) {
	best, share := -1, 0.0
	for r, g := range gain {
		if g <= rounding*alive || p.repairs[r].withheld {
			continue
		}
		if v := g / p.costOf(&p.repairs[r], opened); v > share {
			best, share = r, v
		}
	}
	return best, share
}

// startRepairs fills the buffer with the kinds as they stand and returns their
// mass and the cost of the repairs they need anyway.
func (p *problem) startRepairs(s state, b *buffer) (alive, own float64) {
	if s.done == nil && p.simple != nil {
		return p.startSimple(b)
	}
	for k, faults := range p.kinds {
		b.open[k] = 0
		w := b.weight[k]
		if w == 0 {
			continue
		}
		for i, fixers := range faults {
			if s.done == nil || !anyDone(fixers, s.done) {
				b.open[k] |= 1 << i
				own += w * p.ownCost(fixers)
			}
		}
		if b.open[k] == 0 && len(faults) > 0 {
			b.weight[k] = 0
			continue
		}
		alive += w
		p.addGain(k, w, b)
	}
	return alive, own
}

// simple is a kind of world of at most two faults with at most one repair each,
// as nearly all are; −1 is no repair.
type simple struct {
	a, b  int32
	share float64 // of each fault in the world
	open  uint8
}

// startSimple is startRepairs where nothing has been repaired yet.
func (p *problem) startSimple(b *buffer) (alive, own float64) {
	for k := range p.simple {
		x, w := &p.simple[k], b.weight[k]
		b.open[k] = x.open
		alive += w
		own += w * p.own[k]
		if x.a >= 0 {
			b.gain[x.a] += w * x.share
		}
		if x.b >= 0 {
			b.gain[x.b] += w * x.share
		}
	}
	return alive, own
}

// simplify fills simple, or leaves it empty where some kind is not.
func (p *problem) simplify() {
	out := make([]simple, len(p.kinds))
	for k, faults := range p.kinds {
		x := simple{a: -1, b: -1, open: 1<<len(faults) - 1, share: 1 / float64(max(len(faults), 1))}
		if len(faults) > 2 {
			return
		}
		for i, fixers := range faults {
			if len(fixers) > 1 {
				return
			}
			if len(fixers) == 1 {
				*[]*int32{&x.a, &x.b}[i] = int32(fixers[0])
			}
		}
		out[k] = x
	}
	p.simple = out
}

func anyDone(fixers []int, done []bool) bool {
	for _, r := range fixers {
		if done[r] {
			return true
		}
	}
	return false
}

// ownCost is that of the cheapest repair of a fault.
func (p *problem) ownCost(fixers []int) float64 {
	best := math.Inf(1)
	for _, r := range fixers {
		best = min(best, p.repairs[r].cost)
	}
	if math.IsInf(best, 1) {
		return 0
	}
	return best
}

// addGain credits each repair with its part in ending kind k.
func (p *problem) addGain(k int, w float64, b *buffer) {
	n := float64(bits.OnesCount8(b.open[k]))
	for i, fixers := range p.kinds[k] {
		if b.open[k]>>i&1 == 1 {
			for _, r := range fixers {
				b.gain[r] += w / n
			}
		}
	}
}

// helpedBy is the mass of the kinds with an open fault that a repair ends.
func (p *problem) helpedBy(r int, b *buffer) float64 {
	sum := 0.0
	for _, k := range p.byFix[r] {
		if w := b.weight[k]; w > 0 && b.ends(p, int(k), r) != 0 {
			sum += w
		}
	}
	return sum
}

// apply does a repair: it returns the mass of the kinds ended, that of the kinds
// helped, and the cost of needed repairs now spared.
func (p *problem) apply(r int, b *buffer) (ended, helped, spared float64) {
	for _, k := range p.byFix[r] {
		w := b.weight[k]
		ends := b.ends(p, int(k), r)
		if w == 0 || ends == 0 {
			continue
		}
		helped += w
		p.addGain(int(k), -w, b)
		for i, fixers := range p.kinds[k] {
			if ends>>i&1 == 1 {
				spared += w * p.ownCost(fixers)
			}
		}
		if b.open[k] &^= ends; b.open[k] == 0 {
			ended += w
			b.weight[k] = 0
			continue
		}
		p.addGain(int(k), w, b)
	}
	b.gain[r] = 0
	return ended, helped, spared
}

// buffer is the working memory of one evaluation.
type buffer struct {
	weight []float64 // by kind
	open   []uint8   // by kind: which of its faults are still there
	gain   []float64 // by repair
}

// ends is which of the open faults of kind k repair r ends.
func (b *buffer) ends(p *problem, k, r int) uint8 {
	out := uint8(0)
	for i, fixers := range p.kinds[k] {
		if slices.Contains(fixers, r) {
			out |= 1 << i
		}
	}
	return out & b.open[k]
}

type pool struct{ free []*buffer }

// buffer is an empty one.
func (p *problem) buffer() *buffer {
	if n := len(p.scratch.free); n > 0 {
		b := p.scratch.free[n-1]
		p.scratch.free = p.scratch.free[:n-1]
		clear(b.gain)
		clear(b.weight)
		return b
	}
	return &buffer{make([]float64, len(p.kinds)), make([]uint8, len(p.kinds)), make([]float64, len(p.repairs))}
}

func (p *pool) put(b *buffer) { p.free = append(p.free, b) }

// index sorts the worlds into kinds and fills what follows from them.
func (p *problem) index() {
	known := map[string]int32{}
	p.kind, p.kinds = make([]int32, len(p.worlds)), nil
	for i, faults := range p.worlds {
		sets := make([][]int, len(faults))
		for k, f := range faults {
			sets[k] = p.fixers[f]
		}
		slices.SortFunc(sets, slices.Compare)
		name := fmt.Sprint(sets)
		k, ok := known[name]
		if !ok {
			k = int32(len(p.kinds))
			known[name] = k
			p.kinds = append(p.kinds, sets)
		}
		p.kind[i] = k
	}
	p.simplify()
	p.byFix, p.own = make([][]int32, len(p.repairs)), make([]float64, len(p.kinds))
	for k, faults := range p.kinds {
		for _, fixers := range faults {
			p.own[k] += p.ownCost(fixers)
			for _, r := range fixers {
				if !slices.Contains(p.byFix[r], int32(k)) {
					p.byFix[r] = append(p.byFix[r], int32(k))
				}
			}
		}
	}
}
