package order

import (
	"math"
	"slices"
)

// beatPath finds where units begin: each where the score says, each about as
// long as the one before. State: the point, and the length of the unit before.
// All in grains.
type beatPath struct {
	unit           int // points
	least, lengths int
	change         []int32 // price of a change of the length, in points
	tracked        []int32 // price of a length
	before         []int32 // best way to a point at which a unit of a length begins
}

// noWay is below what any path gains, and far enough from the least number.
const noWay = math.MinInt32 / 2

// along is the best path through scores that begins units at some points only.
func (p *beatPath) along(score []int32, points []int) []int {
	reach := len(p.change) - 1
	row := make([]int32, p.lengths+2*reach)
	for i := range row {
		row[i] = noWay
	}
	if len(points) < len(score) {
		for i := range p.before {
			p.before[i] = noWay
		}
	}
	for _, at := range points {
		p.reach(row[reach:][:p.lengths], at, score[at])
		p.widen(p.before[at*p.lengths:][:p.lengths], row)
	}
	return p.trace(score, points)
}

func newBeatPath(unit, points int) *beatPath {
	p := &beatPath{unit: unit, least: int(float64(unit) * (1 - beatReach))}
	p.lengths = int(float64(unit)*(1+beatReach)+0.5) - p.least + 1
	p.before = make([]int32, points*p.lengths)
	spread := beatChange * float64(unit)
	for d := range int(3*spread) + 1 {
		z := float64(d) / spread
		p.change = append(p.change, int32(z*z/2*beatGrain))
	}
	for l := range p.lengths {
		z := math.Log(float64(p.least+l)/float64(unit)) / beatTracked
		p.tracked = append(p.tracked, int32(z*z/2*beatGrain))
	}
	return p
}

// reach is the best way to a point over a last unit of each length; a unit may
// have begun before the first point.
func (p *beatPath) reach(row []int32, at int, score int32) {
	inside := min(max(at-p.least+1, 0), len(row))
	from := (at - p.least) * p.lengths
	for l, price := range p.tracked[:inside] {
		row[l] = max(p.before[from]+score-price, noWay)
		from -= p.lengths - 1
	}
	for l := inside; l < len(row); l++ {
		row[l] = score
	}
}

// widen lets the next unit differ in length, for its price. The row has no way
// within reach of its ends.
func (p *beatPath) widen(dst, row []int32) {
	reach := len(p.change) - 1
	best := row[reach:][:len(dst)]
	for d := 1; d <= reach; d++ {
		price, shorter, longer := p.change[d], row[reach-d:][:len(dst)], row[reach+d:][:len(dst)]
		for l, v := range best[:len(dst)] {
			dst[l] = max(v, max(shorter[l], longer[l])-price)
		}
		best = dst
	}
}

// trace goes back from the best end within the last unit.
func (p *beatPath) trace(score []int32, points []int) []int {
	row := make([]int32, p.lengths)
	at, length, best := 0, 0, int32(math.MinInt32)
	last, _ := slices.BinarySearch(points, len(score)-p.unit)
	for _, i := range points[last:] {
		p.reach(row, i, score[i])
		for l, v := range row {
			if v > best {
				at, length, best = i, l, v
			}
		}
	}
	out := []int{at}
	for at-p.least-length >= 0 {
		at -= p.least + length
		out = append(out, at)
		p.reach(row, at, score[at])
		length = p.changed(row, length)
	}
	slices.Reverse(out)
	return out
}

// changed is the length before from which a length is best.
func (p *beatPath) changed(row []int32, length int) int {
	best, where := row[length], length
	for d := 1; d < len(p.change); d++ {
		for _, l := range [2]int{length - d, length + d} {
			if l >= 0 && l < p.lengths && row[l]-p.change[d] > best {
				best, where = row[l]-p.change[d], l
			}
		}
	}
	return where
}
