package cutout

import (
	"math"
	"slices"

	"halforder/engine"
)

// Naming by order alone: how many called cuts may be invisible, how many found
// ones may be something else, and what each of these costs beforehand (judgement:
// one found cut in twenty is a fan). An invisible one costs what the cylinder's
// state costs.
const (
	mostSkipped, mostExtra = 5, 3
	extraLog               = -3.0
	mostWays               = 20000
)

// spacingSpread is how much the time from one cut to the next varies, as a
// share of it (judgement).
const spacingSpread = 0.15

// align names found cuts by the order they were called in. A dead cylinder's
// cut cannot be seen in the speed, and a fan can look like a cut, so there may
// be several ways; each carries how likely it is by the rhythm. None is
// returned when less than half of the called cuts were found.
func align(found []Cut, called [][]engine.Cylinder, recorded span) []guess {
	var out []guess
	ways := 0
	for extra := 0; extra <= mostExtra && extra < len(found); extra++ {
		k := len(found) - extra
		skipped := len(called) - k
		if skipped < 0 || skipped > mostSkipped || 2*k < len(called) {
			continue
		}
		choose(len(found), k, func(kept []int) {
			choose(len(called), k, func(places []int) {
				if ways++; ways <= mostWays {
					g := place(found, called, kept, places)
					g.logP += recorded.around(g.cuts) + float64(extra)*recorded.anytime()
					out = append(out, g)
				}
			})
		})
	}
	return likely(out)
}

// How long people record before the first cut and after the last: as they are told,
// 10 s, within a factor of two mostly; strays may do anything between a second and
// ten times that (judgement). A dead first or last cylinder leaves nothing else to
// tell which it was.
const (
	besideTest       = 10.0 // s
	besideTestSpread = 0.7  // natural logarithm
	besideTestStrays = 0.2
	leastBeside      = 1.0 // s
)

// around is how likely it is that a test with these cuts was recorded from there to
// there, natural logarithm.
func (s span) around(cuts []Cut) (logP float64) {
	for _, beside := range []float64{cuts[0].Start - s.from, s.to - cuts[len(cuts)-1].End} {
		logP += mostly(beside, besideTest, besideTestSpread)
	}
	return logP
}

// mostly is how likely seconds are of which told were asked for, natural logarithm.
func mostly(seconds, told, spread float64) float64 {
	z := math.Log(math.Max(seconds, leastBeside)/told) / spread
	usual := math.Exp(-z*z/2) / (spread * math.Sqrt(2*math.Pi))
	stray := 1 / (2 * math.Log(told/leastBeside))
	return math.Log((1-besideTestStrays)*usual + besideTestStrays*stray)
}

// People are told to leave a cylinder off for 3–5 s with 10 s between: a cut every
// 14 s, by half more or less mostly (judgement). Half of that is a sign that one
// between two cuts was thought of and never made.
const (
	fromCutToCut       = 14.0 // s
	fromCutToCutSpread = 0.35 // natural logarithm
)

func asTold(slope float64) float64 { return mostly(slope, fromCutToCut, fromCutToCutSpread) }

// anytime is how likely it is that one found was no cut, and where it is, natural
// logarithm by the second: a fan does not keep to the rhythm. One that lies where a
// cut is due most likely is that cut.
func (s span) anytime() float64 { return extraLog - math.Log(math.Max(s.to-s.from, 1)) }

// choose calls f with every ascending choice of k of n.
func choose(n, k int, f func([]int)) {
	pick := make([]int, k)
	var grow func(j, from int)
	grow = func(j, from int) {
		if j == k {
			f(pick)
			return
		}
		for i := from; i <= n-(k-j); i++ {
			pick[j] = i
			grow(j+1, i+1)
		}
	}
	grow(0, 0)
}

// place puts the kept cuts at the given places of the called order and fills
// the places between with cuts nobody could see.
func place(found []Cut, called [][]engine.Cylinder, kept, places []int) guess {
	seen := make([]Cut, len(kept))
	for i, k := range kept {
		seen[i] = found[k]
	}
	slope, offset, logP := rhythm(seen, places)
	logP += asTold(slope)
	length := usualLength(seen)
	cuts := make([]Cut, len(called))
	for j := range called {
		start := offset + slope*float64(j)
		cuts[j] = Cut{Cylinders: called[j], Start: start, End: start + length}
	}
	for i, p := range places {
		cuts[p] = seen[i]
		cuts[p].Cylinders = called[p]
		cuts[p].found = kept[i] + 1
		z := math.Log(seen[i].length()/length) / 0.6
		logP -= z * z / 2
	}
	return guess{cuts: cuts, logP: logP, slope: slope}
}

func usualLength(cuts []Cut) float64 {
	var x []float64
	for _, c := range cuts {
		x = append(x, c.length())
	}
	return max(median(x), shortestCut)
}

// rhythm is the usual time from one cut to the next, where the first would lie,
// and how likely the deviations are, by the second.
func rhythm(cuts []Cut, places []int) (slope, offset, logP float64) {
	var steps []float64
	for i := 1; i < len(cuts); i++ {
		steps = append(steps, (cuts[i].Start-cuts[i-1].Start)/float64(places[i]-places[i-1]))
	}
	slope = median(slices.Clone(steps))
	for i := 1; i < len(cuts); i++ {
		jump := float64(places[i] - places[i-1])
		z := (steps[i-1]/slope - 1) / (spacingSpread / math.Sqrt(jump))
		logP -= z*z/2 + math.Log(spacingSpread*slope*math.Sqrt(2*math.Pi*jump))
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
		if len(out) < 12 && g.logP > all[0].logP-7 {
			out, logs = append(out, g), append(logs, g.logP)
		}
	}
	total := logSum(logs)
	for i := range out {
		out[i].logP -= total
	}
	return out
}
