package plan

import (
	"cmp"
	"slices"
)

// breadth is how many moves are followed to the next depth, innerWidth among how
// many checks the answer to them is sought.
const (
	breadth     = 6
	innerWidth  = 14
	tinyWeight  = 2e-3 // answers rarer than this are valued as if they told nothing
	noCandidate = -1
)

// A problem with few moves is looked through further, with all of them: what the
// horizon then hides is not worth a price.
const (
	smallProblem  = 12
	smallDepth    = 4
	middleProblem = 24
	middleDepth   = 3
)

// move is a check or a repair and the expected total cost of starting with it.
// With neither it is handing over.
type move struct {
	check, repair int // noCandidate: not this
	value         float64
}

// rank orders all moves by expected total cost, looking depth checks ahead.
// moves[0] is the best.
func (p *problem) rank(w []float64, s state, depth int) []move {
	switch n := len(p.checks) + len(p.repairs); {
	case n <= smallProblem && p.bit > 0, n <= middleProblem && p.bit > 0 && depth > 1:
		plain := *p
		plain.bit = 0
		return plain.rank(w, s, depth)
	case n <= smallProblem:
		depth = max(depth, smallDepth)
	case n <= middleProblem && depth > 1:
		depth = max(depth, middleDepth)
	}
	moves := p.shallow(w, s, nil)
	if depth > 1 {
		for i := range min(p.breadth(), len(moves)) {
			moves[i].value = min(moves[i].value, p.deepen(w, s, moves, i, depth-1))
		}
		sortMoves(moves)
	}
	return p.worthwhile(w, s, moves, depth)
}

func (p *problem) breadth() int {
	if n := len(p.checks) + len(p.repairs); n <= middleProblem {
		return n + 1 // and handing over
	}
	return breadth
}

// worthwhile leaves out checks that do not pay for themselves. Where none does,
// no knowledge is to be had beyond the horizon, and everything is valued again
// without it.
func (p *problem) worthwhile(w []float64, s state, moves []move, depth int) []move {
	if p.bit == 0 {
		return moves
	}
	now := p.estimate(w, s)
	var out []move
	checks := 0
	for _, m := range moves {
		if m.check == noCandidate || m.value < now {
			out = append(out, m)
		}
		if m.check != noCandidate && m.value < now {
			checks++
		}
	}
	if checks > 0 {
		return out
	}
	plain := *p
	plain.bit = 0
	return plain.rank(w, s, depth)
}

func sortMoves(m []move) {
	slices.SortStableFunc(m, func(a, b move) int { return cmp.Compare(a.value, b.value) })
}

// shallow values each move with repairs alone after it. among limits the checks
// looked at; nil means all.
func (p *problem) shallow(w []float64, s state, among []int) []move {
	var out []move
	each := func(i int) {
		if s.used != nil && s.used[i] {
			return
		}
		out = append(out, move{i, noCandidate, p.checkValue(w, s, i, 0, nil)})
	}
	if among == nil {
		for i := range p.checks {
			each(i)
		}
	}
	for _, i := range among {
		each(i)
	}
	out = append(out, move{noCandidate, noCandidate, p.handing(w, s)})
	for _, r := range p.promising(w, s) {
		out = append(out, move{noCandidate, r, p.repairValue(w, s, r, 0, nil)})
	}
	sortMoves(out)
	return out
}

// repairsTried is how many repairs are valued as the next step.
const repairsTried = 4

// promising lists the repairs with the greatest chance per cost.
func (p *problem) promising(w []float64, s state) []int {
	b := p.buffer()
	defer p.scratch.put(b)
	p.sort(b.weight, w)
	alive, _ := p.startRepairs(s, b)
	var out []int
	for range repairsTried {
		r, share := p.bestRepair(b.gain, alive, s.opened)
		if r < 0 || share <= 0 {
			break
		}
		out = append(out, r)
		b.gain[r] = 0
	}
	return out
}

// deepen values move i again with the best moves after it.
func (p *problem) deepen(w []float64, s state, moves []move, i, depth int) float64 {
	var inner []int
	for _, m := range moves[:min(max(innerWidth, p.breadth()), len(moves))] {
		if m.check != noCandidate && m.check != moves[i].check {
			inner = append(inner, m.check)
		}
	}
	if moves[i].check != noCandidate {
		return p.checkValue(w, s, moves[i].check, depth, inner)
	}
	if moves[i].repair != noCandidate {
		return p.repairValue(w, s, moves[i].repair, depth, inner)
	}
	return moves[i].value
}

// value is the expected cost from here on with depth further checks.
func (p *problem) value(w []float64, s state, depth int, among []int) float64 {
	best := p.estimate(w, s)
	if depth == 0 || best == 0 {
		return best
	}
	moves := p.shallow(w, s, among)
	if len(moves) > 0 {
		best = min(best, moves[0].value)
	}
	if depth > 1 {
		for i := range min(p.breadth(), len(moves)) {
			best = min(best, p.deepen(w, s, moves, i, depth-1))
		}
	}
	return best
}

// checkValue is the cost of doing check i and going on.
func (p *problem) checkValue(w []float64, s state, i, depth int, among []int) float64 {
	c := &p.checks[i]
	mass := sum(w)
	total := mass * c.costIn(s.opened)
	next := s
	next.opened |= c.cover
	if depth > 0 {
		next.used = set(s.used, len(p.checks), i)
		return total + p.goOn(w, next, c, depth, among)
	}
	for _, answer := range c.answers {
		total += p.estimateAfter(w, answer, next)
	}
	return total
}

// goOn is the cost after each answer of a check.
func (p *problem) goOn(w []float64, next state, c *check, depth int, among []int) float64 {
	total, after := 0.0, make([]float64, len(w))
	least := tinyWeight * sum(w)
	for _, answer := range c.answers {
		if weigh(after, w, answer) > least {
			total += p.value(after, next, depth, among)
		} else {
			total += p.estimate(after, next)
		}
	}
	return total
}

func weigh(dst, w, chance []float64) float64 {
	sum := 0.0
	for i, v := range w {
		dst[i] = v * chance[i]
		sum += dst[i]
	}
	return sum
}

// repairValue is the cost of doing repair r, looking whether it helped, and
// going on where it did not.
func (p *problem) repairValue(w []float64, s state, r, depth int, among []int) float64 {
	next := s
	next.opened |= p.repairs[r].cover
	next.done = set(s.done, len(p.repairs), r)
	effects := p.effectsOf(s.done, next.done)
	alive, needless := 0.0, 0.0
	rest := make([]float64, len(w))
	for i, k := range p.kind {
		x := effects[k]
		if w[i] == 0 || x == alreadyEnded {
			continue
		}
		alive += w[i]
		if x == needlessThere {
			needless += w[i]
		}
		if x != endsAll {
			rest[i] = w[i]
		}
	}
	cost := alive*p.costOf(&p.repairs[r], s.opened) + needless*p.repairs[r].needless
	return cost + p.value(rest, next, depth, among)
}

// repairEffect is what a repair does in a kind of world.
type repairEffect uint8

const (
	needlessThere repairEffect = iota
	endsSome
	endsAll
	alreadyEnded
)

// effectsOf compares the repairs done before and after one more, by kind.
func (p *problem) effectsOf(before, done []bool) []repairEffect {
	out := make([]repairEffect, len(p.kinds))
	for k, faults := range p.kinds {
		left, helped := 0, false
		for _, fixers := range faults {
			switch {
			case before != nil && anyDone(fixers, before):
			case anyDone(fixers, done):
				helped = true
			default:
				left++
			}
		}
		switch {
		case len(faults) == 0:
		case left == 0 && !helped:
			out[k] = alreadyEnded
		case left == 0:
			out[k] = endsAll
		case helped:
			out[k] = endsSome
		}
	}
	return out
}

// handing is the cost of handing over now: what it takes to learn the truth, and
// the repairs that are needed anyway.
func (p *problem) handing(w []float64, s state) float64 {
	b := p.buffer()
	defer p.scratch.put(b)
	p.sort(b.weight, w)
	alive := sum(b.weight) // also of what has been ended: it is not known to be
	_, own := p.startRepairs(s, b)
	return alive*p.handOn + own
}

func set(old []bool, n, i int) []bool {
	out := make([]bool, n)
	copy(out, old)
	out[i] = true
	return out
}

func sum(w []float64) float64 {
	total := 0.0
	for _, v := range w {
		total += v
	}
	return total
}
