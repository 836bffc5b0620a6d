package cutout

import (
	"math"
	"slices"

	"halforder/engine"
)

// mostSkipped bounds how many called cuts may be invisible, or found cuts be
// something else, when names are given by order alone.
const mostSkipped = 3

// spacingSpread is how much the time from one cut to the next varies, as a
// share of it (judgement).
const spacingSpread = 0.25

// align names found cuts by the order they were called in. A dead cylinder's
// cut cannot be seen in the speed, and a fan can look like a cut, so there may
// be several ways; each carries how likely it is by the rhythm alone.
func align(found []Cut, called [][]engine.Cylinder, from, to float64) []guess {
	k, m := len(found), len(called)
	var out []guess
	switch {
	case k == m:
		cuts := slices.Clone(found)
		for i := range cuts {
			cuts[i].Cylinders = called[i]
		}
		return []guess{{cuts: cuts}}
	case k < m && m-k <= mostSkipped && k >= 2:
		choose(m, k, func(places []int) { out = append(out, spread(found, called, places)) })
	case k > m && k-m <= mostSkipped && m >= 2:
		choose(k, m, func(kept []int) { out = append(out, thin(found, called, kept)) })
	}
	return likely(out)
}

// choose calls f with every ascending choice of k of n.
func choose(n, k int, f func([]int)) {
	pick := make([]int, k)
	var grow func(j, from int)
	grow = func(j, from int) {
		if j == k {
			f(slices.Clone(pick))
			return
		}
		for i := from; i <= n-(k-j); i++ {
			pick[j] = i
			grow(j+1, i+1)
		}
	}
	grow(0, 0)
}

// spread puts the found cuts at the given places of the called order and fills
// the places between with cuts nobody could see.
func spread(found []Cut, called [][]engine.Cylinder, places []int) guess {
	slope, offset, logP := rhythm(found, places)
	length := usualLength(found)
	cuts := make([]Cut, len(called))
	for j := range called {
		start := offset + slope*float64(j)
		cuts[j] = Cut{Start: start, End: start + length}
	}
	for i, p := range places {
		cuts[p] = found[i]
	}
	for j := range cuts {
		cuts[j].Cylinders = called[j]
		if !cuts[j].Seen && j > 0 && cuts[j-1].Seen { // follow the last one seen
			shift := cuts[j-1].Start + slope - cuts[j].Start
			cuts[j].Start, cuts[j].End = cuts[j].Start+shift, cuts[j].End+shift
		}
	}
	return guess{cuts: cuts, logP: logP}
}

// thin keeps some of the found cuts; those left out were something else.
func thin(found []Cut, called [][]engine.Cylinder, kept []int) guess {
	var cuts []Cut
	var places []int
	for j, i := range kept {
		c := found[i]
		c.Cylinders = called[j]
		cuts, places = append(cuts, c), append(places, j)
	}
	_, _, logP := rhythm(cuts, places)
	return guess{cuts: cuts, logP: logP + alikeLog(cuts)}
}

// alikeLog prefers cuts of like length and size.
func alikeLog(cuts []Cut) (logP float64) {
	length := usualLength(cuts)
	for _, c := range cuts {
		z := math.Log(c.length()/length) / 0.5
		logP -= z * z / 2
	}
	return logP
}

func usualLength(cuts []Cut) float64 {
	var x []float64
	for _, c := range cuts {
		x = append(x, c.length())
	}
	return max(median(x), shortestCut)
}

// rhythm is the straight line through the beginnings of the cuts over their
// places, and how likely the deviations from one step to the next are.
func rhythm(cuts []Cut, places []int) (slope, offset, logP float64) {
	var steps []float64
	for i := 1; i < len(cuts); i++ {
		steps = append(steps, (cuts[i].Start-cuts[i-1].Start)/float64(places[i]-places[i-1]))
	}
	slope = median(slices.Clone(steps))
	for i := 1; i < len(cuts); i++ {
		jump := float64(places[i] - places[i-1])
		spread := spacingSpread * slope * math.Sqrt(jump)
		z := (cuts[i].Start - cuts[i-1].Start - jump*slope) / spread
		logP += -z*z/2 - math.Log(spread)
	}
	for i := range cuts {
		offset += (cuts[i].Start - slope*float64(places[i])) / float64(len(cuts))
	}
	return slope, offset, logP
}

// likely sorts guesses, drops those a thousand times less likely than the best
// and scales the rest to a sum of 1.
func likely(all []guess) []guess {
	slices.SortStableFunc(all, func(a, b guess) int { return int(math.Copysign(1, b.logP-a.logP)) })
	var out []guess
	var logs []float64
	for _, g := range all {
		if len(out) < 20 && g.logP > all[0].logP-7 {
			out, logs = append(out, g), append(logs, g.logP)
		}
	}
	total := logSum(logs)
	for i := range out {
		out[i].logP -= total
	}
	return out
}
