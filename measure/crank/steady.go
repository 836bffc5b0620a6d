package crank

import (
	"math"
	"slices"
)

// steadyPart leaves out the inrush and what follows the starter's release: the
// longest stretch whose mean stays near its median. The mean spans several
// compressions even of a three-cylinder; the ends are cut where current has gone.
// Through a coupling capacitor no mean is left, only how far the current swings.
func steadyPart(x []float64, rate float64) (from, to int) {
	hop := hopAt(rate)
	level, tolerance := x, 0.35
	if coupled(x, rate) {
		level, tolerance = swingsAround(x, hops*hop), 0.5
	}
	short, means := meansOf(level, hop, hop), meansOf(level, hop, hops*hop)
	least := 0.2 * lasting(means)
	mid := median(slices.DeleteFunc(slices.Clone(means), func(m float64) bool { return m <= least }))
	first, last := longestRun(means, func(m float64) bool { return math.Abs(m-mid) < tolerance*math.Abs(mid) })
	if last < first {
		return 0, 0
	}
	last += hops - 1 // the last short piece of the last window
	for first < last && short[first] < 0.2*mid {
		first++
	}
	for last > first && short[last] < 0.2*mid {
		last--
	}
	return first * hop, (last + 1) * hop
}

// coupled reports whether a capacitor has taken the mean of the current away:
// while the starter works it is small beside the swing.
func coupled(x []float64, rate float64) bool {
	const small = 0.5
	hop := hopAt(rate)
	level := column(meansOf(x, hop, hops*hop), math.Abs)
	return median(level) < small*lasting(meansOf(swingsAround(x, hops*hop), hop, hops*hop))
}

// hopAt is a short piece of eight a second, in samples, and hops are a window.
func hopAt(rate float64) int { return max(1, int(rate/8)) }

const hops = 6

// lasting is the highest value, of eight a second, that lasts for the second
// and a half that must be steady; the inrush does not.
func lasting(v []float64) float64 {
	const pieces = 12
	if len(v) == 0 {
		return 0
	}
	s := sorted64(v)
	return s[max(0, len(s)-pieces)]
}

// swingsAround is how far each value lies from the mean of the window around it.
func swingsAround(x []float64, window int) []float64 {
	sums := make([]float64, len(x)+1)
	for i, v := range x {
		sums[i+1] = sums[i] + v
	}
	out := make([]float64, len(x))
	for i, v := range x {
		from, to := max(0, i-window/2), min(len(x), i+window/2+1)
		out[i] = math.Abs(v - (sums[to]-sums[from])/float64(to-from))
	}
	return out
}

// meansOf are means over so many samples, every hop samples.
func meansOf(x []float64, hop, over int) (out []float64) {
	for i := 0; i+over <= len(x); i += hop {
		sum := 0.0
		for _, v := range x[i : i+over] {
			sum += v / float64(over)
		}
		out = append(out, sum)
	}
	return out
}

// longestRun is the first and last index of the longest run of good values;
// last is below first when none is good.
func longestRun(v []float64, good func(float64) bool) (first, last int) {
	last = -1
	start := 0
	for i, x := range v {
		if !good(x) {
			start = i + 1
		} else if i-start > last-first {
			first, last = start, i
		}
	}
	return first, last
}
