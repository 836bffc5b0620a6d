package crank

import "math"

// Echoes: what the crank and the engine do after a miss beyond what the weighers
// know of. A deep miss shakes the drive, slows the air and upsets the next
// charges; the firings after it look weak although nothing is wrong with them.

// echoLags are the firings around a miss that may echo it.
var echoLags = []int{-1, 1, 2, 3}

const (
	fewestParents = 4   // misses needed to learn an echo from
	leastEcho     = 0.1 // share of the miss below which an echo does not matter
	mostEcho      = 0.75
)

// learnEchoes is the usual share of a miss that shows again at each of echoLags:
// the median over misses deeper than everything around them. A share near one
// is no echo: those cylinders really miss together.
func learnEchoes(all []firing, centre float64) []float64 {
	out := make([]float64, len(echoLags))
	parents := parentsOf(all, centre)
	if len(parents) < fewestParents {
		return out
	}
	for k, lag := range echoLags {
		var shares []float64
		for _, i := range parents {
			if j := i + lag; j >= 0 && j < len(all) && adjacent(all, i, j) {
				shares = append(shares, (float64(all[j].excess)-centre)/(float64(all[i].excess)-centre))
			}
		}
		if len(shares) < fewestParents {
			continue
		}
		if m := median(shares); m > leastEcho && m < mostEcho {
			out[k] = m
		}
	}
	return out
}

// adjacent reports whether two firings a few places apart in the list are as
// many firings apart in the engine (none was left out between).
func adjacent(all []firing, i, j int) bool {
	return math.Abs(all[j].at-all[i].at) < 2*120/float64(all[i].rpm)
}

// parentsOf are the misses deeper than all firings three places around.
func parentsOf(all []firing, centre float64) []int {
	var out []int
	for i := range all {
		w := &all[i]
		if !w.miss {
			continue
		}
		deepest := true
		for j := max(0, i-3); j <= i+3 && j < len(all); j++ {
			if j != i && all[j].excess <= w.excess {
				deepest = false
			}
		}
		if deepest {
			out = append(out, i)
		}
	}
	return out
}

// takeEchoes clears firings that were called missed only because they echo a
// deeper miss nearby, and frees their excess from it. Dead cylinders stay.
func takeEchoes(all []firing, m missModel, bins map[int]binLevels) {
	echoes := learnEchoes(all, m.centre)
	for _, i := range parentsOf(all, m.centre) {
		for k, lag := range echoLags {
			j := i + lag
			if echoes[k] == 0 || j < 0 || j >= len(all) || !adjacent(all, i, j) {
				continue
			}
			level := bins[int(all[j].bin)].slots[all[j].slot]
			if level.dead {
				continue
			}
			parent := float64(all[i].excess) - m.centre
			all[j].excess -= float32(echoes[k] * parent)
			all[j].miss = all[j].miss && float64(all[j].excess)-m.centre < -max(m.thresholdOf(level), -0.5*mostEcho*parent)
		}
	}
}
