package cutout

import (
	"math"
	"slices"

	"halforder/engine"
)

// Limits of a cut in seconds, and how a hand follows a prompt (judgement): a
// connector comes off about 0.7 s after the button, from 1.5 s before to 4 s
// after.
const (
	shortestCut, longestCut = 0.8, 40.0
	handLate, handSpread    = 0.7, 1.2
	handFrom, handTo        = -1.5, 4.0
)

// search is what locating cuts works on.
type search struct {
	events   []event // changes of load in the engine speed, by time
	breaks   []float64
	stalls   []span
	from, to float64
}

// marked finds the cut of each pair of marks near where they are.
func (s search) marked(marks []Mark, called [][]engine.Cylinder) []Cut {
	marks = slices.Clone(marks)
	slices.SortStableFunc(marks, func(a, b Mark) int { return int(math.Copysign(1, a.At-b.At)) })
	var cuts []Cut
	used := map[int]bool{}
	for i, m := range marks {
		if m.On {
			continue
		}
		c := Cut{Cylinders: m.Cylinders, Start: m.At, End: math.NaN()}
		if len(c.Cylinders) == 0 && len(cuts) < len(called) {
			c.Cylinders = called[len(cuts)]
		}
		if k := s.nearMark(m.At, +1, used); k >= 0 {
			used[k], c.Start, c.Seen = true, s.events[k].at, true
		}
		next := s.to
		if j := nextMark(marks, i, false); j >= 0 {
			next = marks[j].At
		}
		s.endMarked(&c, marks, i, next, used)
		cuts = append(cuts, c)
	}
	s.placeUnseen(cuts, marks)
	return cuts
}

func nextMark(marks []Mark, i int, on bool) int {
	for j := i + 1; j < len(marks); j++ {
		if marks[j].On == on {
			return j
		}
	}
	return -1
}

// endMarked finds where a cut ended: near its mark, else the first rise.
func (s search) endMarked(c *Cut, marks []Mark, i int, next float64, used map[int]bool) {
	if j := nextMark(marks, i, true); j >= 0 && marks[j].At <= next {
		c.End = marks[j].At
		if k := s.nearMark(c.End, -1, used); k >= 0 && s.events[k].at > c.Start+shortestCut {
			used[k], c.End, c.EndSeen = true, s.events[k].at, true
		}
		return
	}
	for k, e := range s.events {
		if c.Seen && !used[k] && e.size < 0 && e.at > c.Start+shortestCut && e.at < min(c.Start+longestCut, next+handTo) {
			used[k], c.End, c.EndSeen = true, e.at, true
			return
		}
	}
}

// nearMark is the event of the wanted sign that best fits a mark: strong, and
// where a hand would have made it.
func (s search) nearMark(at float64, sign float64, used map[int]bool) int {
	best, found := 0.0, -1
	for k, e := range s.events {
		d := e.at - at
		if used[k] || e.size*sign <= 0 || d < handFrom || d > handTo {
			continue
		}
		late := (d - handLate) / handSpread
		if score := e.z*e.z/2 - late*late/2; score > best {
			best, found = score, k
		}
	}
	return found
}

// placeUnseen puts beginnings and ends nobody saw where the hand usually was.
func (s search) placeUnseen(cuts []Cut, marks []Mark) {
	var late, length []float64
	offs := slices.DeleteFunc(slices.Clone(marks), func(m Mark) bool { return m.On })
	for i, c := range cuts {
		if c.Seen {
			late = append(late, c.Start-offs[i].At)
		}
		if c.Seen && c.EndSeen {
			length = append(length, c.End-c.Start)
		}
	}
	usualLate, usualLength := handLate, 4.0
	if len(late) > 0 {
		usualLate = median(late)
	}
	if len(length) > 0 {
		usualLength = median(length)
	}
	for i := range cuts {
		c := &cuts[i]
		if !c.Seen {
			c.Start += usualLate
		}
		switch {
		case math.IsNaN(c.End):
			c.End = c.Start + usualLength
		case !c.EndSeen:
			c.End += usualLate
		}
		if i+1 < len(cuts) && !c.EndSeen {
			c.End = min(c.End, cuts[i+1].Start-0.5)
		}
		c.End = max(c.End, c.Start+shortestCut)
	}
}

// unmarked pairs falls and rises into cuts: the set of separate pairs that
// explains most, by dynamic programming over the events in time.
func (s search) unmarked() []Cut {
	n := len(s.events)
	best, from := make([]float64, n+1), make([]int, n+1)
	for j := 1; j <= n; j++ {
		best[j], from[j] = best[j-1], -1
		for i := range j - 1 {
			if v := best[i] + s.pair(i, j-1); v > best[j] {
				best[j], from[j] = v, i
			}
		}
	}
	var cuts []Cut
	for j := n; j > 0; {
		if i := from[j]; i >= 0 {
			cuts = append(cuts, Cut{Start: s.events[i].at, End: s.events[j-1].at, Seen: true, EndSeen: true})
			j = i
		} else {
			j--
		}
	}
	slices.Reverse(cuts)
	return cuts
}

// pair scores events i and j as beginning and end of one cut: both must be
// there, alike in size, and apart as a cut is long. Long ones pay.
func (s search) pair(i, j int) float64 {
	a, b := s.events[i], s.events[j]
	length := b.at - a.at
	if a.size <= 0 || b.size >= 0 || length < shortestCut || length > longestCut {
		return math.Inf(-1)
	}
	unlike := math.Log(-b.size/a.size) / 0.35
	score := min(a.z*a.z, 200)/2 + min(b.z*b.z, 200)/2 - unlike*unlike/2
	return score - 4 - max(length-12, 0)
}
