package plan

import (
	"math"
	"math/bits"
)

// problem is troubleshooting in the abstract: worlds of which one is true,
// checks that tell them apart, and repairs that end faults. All costs are money.
//
// Values are linear in the weights: they are expected costs times the mass.
type problem struct {
	worlds  [][]faultRef  // by world: its faults; a world without any ends only by handing over
	fixers  [][]int       // by fault: the repairs that end it
	byFix   [][]int32     // by repair: the worlds it helps
	own     []float64     // by fault: cost of its cheapest repair
	simple  []simpleWorld // by world, where all are simple
	repairs []repair
	checks  []check
	handOn  float64 // cost of handing the job over, which reveals the truth
	bit     float64 // price of one bit of knowledge beyond what is looked ahead; 0: none is to be had
	scratch pool
}

type faultRef int

type repair struct {
	cost     float64 // with its cover off
	opening  float64 // more when the cover is still on
	cover    uint32  // covers it takes off
	needless float64 // more when it was not needed
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
	cost, _, first = p.evaluate(w, s)
	return cost, first
}

// estimate is repairOnly, or less where further checks beyond the horizon are
// likely to do better: the repairs needed anyway, and what it usually costs to
// learn which they are. Checks bring knowledge at a price for each bit that
// varies little; the entropy of the repairs says how many bits are missing.
func (p *problem) estimate(w []float64, s state) float64 {
	plain, beyond, _ := p.evaluate(w, s)
	if p.bit == 0 {
		return plain
	}
	return min(plain, beyond)
}

// evaluate gives the values of repairOnly and of looking beyond the horizon.
func (p *problem) evaluate(w []float64, s state) (plain, beyond float64, first int) {
	b := p.scratch.get(len(p.worlds), len(p.repairs))
	defer p.scratch.put(b)
	alive, own := p.startRepairs(w, s, b)
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
	lost, bits := alive, 0.0
	for _, g := range gain {
		if g > 0 {
			lost -= g
			bits -= g / alive * math.Log2(g/alive)
		}
	}
	if lost > rounding*alive {
		bits -= lost / alive * math.Log2(lost/alive)
		own += lost * p.handOn
	}
	return own + alive*bits*p.bit
}

func (p *problem) repairInOrder(alive, own float64, opened uint32, b *buffer) (best float64, first int) {
	total, first := 0.0, -1
	start, best := alive, alive*p.handOn+own
	for alive > 0 {
		r, share := p.bestRepair(b.gain, alive, opened)
		if r < 0 || share <= 0 {
			break
		}
		c := p.costOf(&p.repairs[r], opened)
		if alive*c > p.handOn*b.gain[r] { // the next repair is worth less than the truth costs
			break
		}
		if first < 0 {
			first = r
		}
		total += alive*c + (alive-b.needed(p, r))*p.repairs[r].needless
		opened |= p.repairs[r].cover
		ended, spared := p.apply(r, b)
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
		if g <= rounding*alive {
			continue
		}
		if v := g / p.costOf(&p.repairs[r], opened); v > share {
			best, share = r, v
		}
	}
	return best, share
}

// startRepairs fills the buffer with the worlds as they stand and returns their
// mass and the cost of the repairs they need anyway.
func (p *problem) startRepairs(w []float64, s state, b *buffer) (alive, own float64) {
	if s.done == nil && p.simple != nil {
		return p.startSimple(w, b)
	}
	for i, faults := range p.worlds {
		b.open[i] = 0
		b.weight[i] = w[i]
		if w[i] == 0 {
			continue
		}
		for k, f := range faults {
			if s.done != nil && p.fixed(f, s.done) {
				continue
			}
			b.open[i] |= 1 << k
			own += w[i] * p.own[f]
		}
		if b.open[i] == 0 && len(faults) > 0 {
			b.weight[i] = 0
			continue
		}
		alive += w[i]
		p.addGain(i, w[i], b)
	}
	return alive, own
}

// simpleWorld is a world of at most two faults with at most one repair each, as
// nearly all are; −1 is no repair.
type simpleWorld struct {
	a, b  int32
	share float64 // of each fault in the world
	own   float64
	open  uint8
}

// startSimple is startRepairs where nothing has been repaired yet.
func (p *problem) startSimple(w []float64, b *buffer) (alive, own float64) {
	copy(b.weight, w)
	for i := range p.simple {
		x, wi := &p.simple[i], w[i]
		if wi == 0 {
			b.open[i] = 0
			continue
		}
		b.open[i] = x.open
		alive += wi
		own += wi * x.own
		if x.a >= 0 {
			b.gain[x.a] += wi * x.share
		}
		if x.b >= 0 {
			b.gain[x.b] += wi * x.share
		}
	}
	return alive, own
}

// simplify fills simple, or leaves it empty where some world is not.
func (p *problem) simplify() {
	out := make([]simpleWorld, len(p.worlds))
	for i, faults := range p.worlds {
		x := simpleWorld{a: -1, b: -1, open: 1<<len(faults) - 1, share: 1 / float64(max(len(faults), 1))}
		if len(faults) > 2 {
			return
		}
		for k, f := range faults {
			x.own += p.own[f]
			if len(p.fixers[f]) > 1 {
				return
			}
			if len(p.fixers[f]) == 1 {
				*[]*int32{&x.a, &x.b}[k] = int32(p.fixers[f][0])
			}
		}
		out[i] = x
	}
	p.simple = out
}

func (p *problem) fixed(f faultRef, done []bool) bool {
	for _, r := range p.fixers[f] {
		if done[r] {
			return true
		}
	}
	return false
}

// ownCost is that of the cheapest repair of a fault.
func (p *problem) ownCost(f faultRef) float64 {
	best := math.Inf(1)
	for _, r := range p.fixers[f] {
		best = min(best, p.repairs[r].cost)
	}
	if math.IsInf(best, 1) {
		return 0
	}
	return best
}

// addGain credits each repair with its part in ending world i.
func (p *problem) addGain(i int, w float64, b *buffer) {
	n := float64(bits.OnesCount8(b.open[i]))
	for k, f := range p.worlds[i] {
		if b.open[i]>>k&1 == 1 {
			for _, r := range p.fixers[f] {
				b.gain[r] += w / n
			}
		}
	}
}

// apply does a repair: it returns the mass of the worlds ended and the cost of
// needed repairs now spared.
func (p *problem) apply(r int, b *buffer) (ended, spared float64) {
	for _, i := range p.byFix[r] {
		w := b.weight[i]
		if w == 0 || !b.opens(p, int(i), r) {
			continue
		}
		p.addGain(int(i), -w, b)
		for k, f := range p.worlds[i] {
			if b.open[i]>>k&1 == 1 && p.ends(f, r) {
				b.open[i] &^= 1 << k
				spared += w * p.own[f]
			}
		}
		if b.open[i] == 0 {
			ended += w
			b.weight[i] = 0
			continue
		}
		p.addGain(int(i), w, b)
	}
	b.gain[r] = 0
	return ended, spared
}

func (p *problem) ends(f faultRef, r int) bool {
	for _, x := range p.fixers[f] {
		if x == r {
			return true
		}
	}
	return false
}

// buffer is the working memory of one evaluation.
type buffer struct {
	weight []float64
	open   []uint8 // by world: which of its faults are still there
	gain   []float64
}

func (b *buffer) opens(p *problem, i, r int) bool {
	for k, f := range p.worlds[i] {
		if b.open[i]>>k&1 == 1 && p.ends(f, r) {
			return true
		}
	}
	return false
}

// needed is the mass of the worlds in which repair r ends something.
func (b *buffer) needed(p *problem, r int) float64 {
	sum := 0.0
	for _, i := range p.byFix[r] {
		if b.weight[i] > 0 && b.opens(p, int(i), r) {
			sum += b.weight[i]
		}
	}
	return sum
}

type pool struct{ free []*buffer }

func (p *pool) get(worlds, repairs int) *buffer {
	if n := len(p.free); n > 0 {
		b := p.free[n-1]
		p.free = p.free[:n-1]
		clear(b.gain)
		return b
	}
	return &buffer{make([]float64, worlds), make([]uint8, worlds), make([]float64, repairs)}
}

func (p *pool) put(b *buffer) { p.free = append(p.free, b) }

// index fills byFix, own and simple.
func (p *problem) index() {
	p.own = make([]float64, len(p.fixers))
	for f := range p.fixers {
		p.own[f] = p.ownCost(faultRef(f))
	}
	p.simplify()
	p.byFix = make([][]int32, len(p.repairs))
	for i, faults := range p.worlds {
		for _, f := range faults {
			for _, r := range p.fixers[f] {
				if n := len(p.byFix[r]); n == 0 || p.byFix[r][n-1] != int32(i) {
					p.byFix[r] = append(p.byFix[r], int32(i))
				}
			}
		}
	}
}
