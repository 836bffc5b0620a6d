package order

import "math"

// beatSeeker finds where the units of a grid begin, shapes given. What it needs
// is used again from round to round.
type beatSeeker struct {
	*beatGrid
	path   *beatPath
	gains  [][]int32 // by shape: how much likelier it is at each point than anything, see weigh
	best   []int32   // of these, the prior counted
	points []int     // where it looks

	sums  []uint64 // see weigh
	table [][levels]uint64
}

func newBeatSeeker(g *beatGrid, shapes int) *beatSeeker {
	n := len(g.at)
	s := &beatSeeker{beatGrid: g, path: newBeatPath(g.unit, n), gains: make([][]int32, shapes)}
	for i := range s.gains {
		s.gains[i] = make([]int32, n)
	}
	s.best, s.points = make([]int32, n), make([]int, 0, n)
	s.sums, s.table = make([]uint64, n), make([][levels]uint64, g.unit)
	return s
}

// everywhere seeks at all points. The first shape has every firing there, the
// others one quiet.
func (s *beatSeeker) everywhere(shapes []beatShape) (begins []int) {
	s.points = s.points[:0]
	for i := range s.at {
		s.points = append(s.points, i)
	}
	return s.seek(shapes)
}

// near looks near where they began before, and everywhere when one wants to go
// farther. Better shapes move hardly any by more than a point.
func (s *beatSeeker) near(shapes []beatShape, before []int) (begins []int) {
	s.points = s.points[:0]
	next := 0
	for _, at := range before {
		for i := max(next, at-beatNear); i <= min(at+beatNear, len(s.at)-1); i++ {
			s.points = append(s.points, i)
			next = i + 1
		}
	}
	begins = s.seek(shapes)
	if !within(begins, before, beatNear-1) {
		return s.everywhere(shapes)
	}
	return begins
}

// seek looks at the points.
func (s *beatSeeker) seek(shapes []beatShape) (begins []int) {
	s.weigh(shapes, s.points)
	copy(s.best, s.gains[0])
	price := int32(math.Log(quietPrior) * beatGrain)
	for _, soft := range s.gains[1:] {
		for i, v := range soft {
			s.best[i] = max(s.best[i], v+price)
		}
	}
	return s.path.along(s.best, s.points)
}

// within reports whether none is farther than reach from all of others; both
// ascend.
func within(x, others []int, reach int) bool {
	k := 0
	for _, v := range x {
		for k < len(others) && others[k] < v-reach {
			k++
		}
		if k == len(others) || others[k] > v+reach {
			return false
		}
	}
	return true
}
