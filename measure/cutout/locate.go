package cutout

import (
	"math"
	"slices"

	"halforder/engine"
)

// Limits of a cut, s (judgement).
const shortestCut, longestCut = 0.8, 40.0

// search is what locating cuts without marks works on.
type search struct {
	events []event // changes of load in the engine speed, by time
}

// nearMarks gives each mark at which something went off the found cut that
// begins near it, or one that nobody saw.
func nearMarks(found []Cut, marks []Mark, called [][]engine.Cylinder) []Cut {
	var out []Cut
	length := 4.0
	if len(found) > 0 {
		length = usualLength(found)
	}
	for _, m := range marks {
		if m.On {
			continue
		}
		c := Cut{Start: m.At + handLate, End: m.At + handLate + length}
		for _, f := range found {
			if f.Start > m.At+handFrom && f.Start < m.At+handTo {
				c = f
				break
			}
		}
		c.Unsure = m.Unsure
		if c.Cylinders = m.Cylinders; len(c.Cylinders) == 0 && len(out) < len(called) {
			c.Cylinders = called[len(out)]
		}
		out = append(out, c)
	}
	return out
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
