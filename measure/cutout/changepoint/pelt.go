package changepoint

import (
	"math"
	"slices"
)

// Breaks is the cheapest set of breaks at a penalty per break, with no stretch
// shorter than least samples. Ascending; none when the record is one stretch
// or shorter than two of them.
func (s *Series) Breaks(penalty float64, least int) []int {
	least = max(least, 1)
	if s.length < 2*least {
		return nil
	}
	best, last := make([]float64, s.length+1), make([]int, s.length+1)
	for i := range best {
		best[i] = math.Inf(1)
	}
	best[0] = -penalty
	open := []candidate{{0, math.MaxInt}}
	for end := least; end <= s.length; end++ {
		for _, c := range open {
			if v := best[c.start] + s.RSS(c.start, end) + penalty; v < best[end] {
				best[end], last[end] = v, c.start
			}
		}
		open = s.prune(open, best, end, least)
		if next := end - least + 1; next >= least {
			open = append(open, candidate{next, math.MaxInt})
		}
	}
	return trace(last, s.length)
}

// candidate is a possible last break. One that can no longer win stays until
// the break that beats it may itself begin a stretch long enough.
type candidate struct{ start, until int }

func (s *Series) prune(open []candidate, best []float64, end, least int) []candidate {
	kept := open[:0]
	for _, c := range open {
		if c.until == math.MaxInt && best[c.start]+s.RSS(c.start, end) > best[end] {
			c.until = end + least
		}
		if c.until > end+1 {
			kept = append(kept, c)
		}
	}
	return kept
}

func trace(last []int, end int) []int {
	var out []int
	for end = last[end]; end > 0; end = last[end] {
		out = append(out, end)
	}
	slices.Reverse(out)
	return out
}
