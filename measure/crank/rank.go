package crank

import (
	"math"
	"slices"
)

// median is the middle value, or the mean of the two middle ones; NaN of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	half := len(s) / 2
	high := ranked(s, half)
	if len(s)%2 == 1 {
		return high
	}
	return (slices.Max(s[:half]) + high) / 2
}

// ranked is the value that would stand at place k if v were sorted; it reorders
// v so that none before k is greater and none after it less.
func ranked[F float32 | float64](v []F, k int) F {
	const few = 24
	lo, hi := 0, len(v)
	for hi-lo > few {
		i, j := split(v[lo:hi])
		switch {
		case k < lo+i:
			hi = lo + i
		case k >= lo+j:
			lo += j
		default:
			return v[k]
		}
	}
	slices.Sort(v[lo:hi])
	return v[k]
}

// split puts the values below a middling one first, those above it last; i and
// j are where the middling ones begin and end.
func split[F float32 | float64](v []F) (i, j int) {
	a, b, c := v[0], v[len(v)/2], v[len(v)-1]
	pivot := max(min(a, b), min(max(a, b), c))
	j = len(v)
	for k := 0; k < j; {
		switch x := v[k]; {
		case x < pivot:
			v[i], v[k] = x, v[i]
			i++
			k++
		case x > pivot:
			j--
			v[k], v[j] = v[j], x
		default: // NaN stays with the middling
			k++
		}
	}
	return i, j
}
