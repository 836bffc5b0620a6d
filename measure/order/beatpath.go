package order

import (
	"math"
	"slices"
)

// beatPath finds where units begin: each where the score says, each about as
// long as the one before. State: the point, and the length of the unit before.
type beatPath struct {
	least, lengths int
	change         []float32 // price of a change of the length, in points
	tracked        []float32 // price of a length
	total          []float32 // by point and length
	back           []int16   // length before, −1 at the beginning
}

func (g *beatGrid) path(score []float32) []int {
	p := newBeatPath(g.unit, len(score))
	for at, v := range score {
		for l := range p.lengths {
			p.reach(at, l, v)
		}
	}
	return p.trace(len(score), g.unit)
}

func newBeatPath(unit, points int) *beatPath {
	p := &beatPath{least: int(float64(unit) * (1 - beatReach))}
	p.lengths = int(float64(unit)*(1+beatReach)+0.5) - p.least + 1
	p.total, p.back = make([]float32, points*p.lengths), make([]int16, points*p.lengths)
	spread := beatChange * float64(unit)
	for d := range int(3*spread) + 1 {
		z := float64(d) / spread
		p.change = append(p.change, float32(z*z/2))
	}
	for l := range p.lengths {
		z := math.Log(float64(p.least+l)/float64(unit)) / beatTracked
		p.tracked = append(p.tracked, float32(z*z/2))
	}
	return p
}

// reach is the best way to a point over a last unit of a length.
func (p *beatPath) reach(at, l int, score float32) {
	i, from := at*p.lengths+l, at-p.least-l
	if from < 0 {
		p.total[i], p.back[i] = score, -1
		return
	}
	before := p.total[from*p.lengths:][:p.lengths]
	best, where := before[l], l
	for d, cost := range p.change[1:] {
		if k := l - d - 1; k >= 0 && before[k]-cost > best {
			best, where = before[k]-cost, k
		}
		if k := l + d + 1; k < p.lengths && before[k]-cost > best {
			best, where = before[k]-cost, k
		}
	}
	p.total[i], p.back[i] = best+score-p.tracked[l], int16(where)
}

// trace goes back from the best end within the last unit.
func (p *beatPath) trace(points, unit int) []int {
	from := max(0, points-unit) * p.lengths
	best := from
	for i, v := range p.total[from:] {
		if v > p.total[best] {
			best = from + i
		}
	}
	var out []int
	for at, l := best/p.lengths, best%p.lengths; ; {
		out = append(out, at)
		b := p.back[at*p.lengths+l]
		if b < 0 {
			break
		}
		at, l = at-p.least-l, int(b)
	}
	slices.Reverse(out)
	return out
}
