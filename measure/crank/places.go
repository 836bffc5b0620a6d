package crank

import "math"

// A wheel whose gaps carry spurious pulses and whose teeth are missed now and
// then hardly shows one clean turn. Its places still repeat: teeth are numbered
// by the usual interval around them, missed ones counted, pulses between two
// places left out; then each place asks the same one a few turns before and after.

// How far an edge may lie from a place, in places, after a tooth and after a gap,
// and how many places in a row may be empty before the count begins anew.
const (
	besidePlace = 0.25
	beyondGap   = 0.35
	mostEmpty   = 6
)

// placesOf tells of each place around the wheel, turn after turn, whether a
// tooth stood there. Where the count is lost it goes on after mostEmpty places.
func placesOf(edges []float64) []bool {
	pitch := pitches(edges)
	if len(pitch) == 0 {
		return nil
	}
	out := append(make([]bool, 0, len(edges)+len(edges)/4), true)
	last := edges[0]
	for i, step := range pitch {
		r := (edges[i+1] - last) / step
		n, may := int(math.Round(r)), besidePlace
		if n > 2 {
			may = beyondGap
		}
		switch {
		case n > mostEmpty+1:
			out = append(out, make([]bool, mostEmpty)...)
		case n < 1 || math.Abs(r-float64(n)) > may:
			continue // between two places
		default:
			out = append(append(out, make([]bool, n-1)...), true)
		}
		last = edges[i+1]
	}
	return out
}

// pitches is the usual interval around each: teeth are many, gaps and pulses few.
func pitches(edges []float64) []float64 {
	const around = 7
	gaps := make([]float64, max(0, len(edges)-1))
	for i := range gaps {
		gaps[i] = edges[i+1] - edges[i]
	}
	out := make([]float64, len(gaps))
	for i := range gaps {
		out[i] = median(gaps[max(0, i-around):min(len(gaps), i+around+1)])
	}
	return out
}

// Shares of the empty places that must be empty again a turn later, above what
// chance makes, and of the best such share that a shorter turn must reach.
const (
	emptyAgain = 0.25
	nearlyBest = 0.85
)

// turnByPlaces is the turn of a toothed wheel by its places.
func turnByPlaces(edges []float64) ([]stretch, bool) {
	places := placesOf(edges[:min(len(edges), maxSurveyed)])
	n, ok := repeatsAfter(places)
	if !ok {
		return nil, false
	}
	turn, ok := turnOf(stretchesOf(voted(places, n)))
	if !ok || wheelOf(turn).Marks() <= fewMarks || n%wheelOf(turn).Positions != 0 {
		return nil, false
	}
	return turn, true
}

// repeatsAfter is after how many places the empty ones repeat.
func repeatsAfter(places []bool) (n int, ok bool) {
	var empty []int
	for i, tooth := range places {
		if !tooth {
			empty = append(empty, i)
		}
	}
	base := float64(len(empty)) / float64(max(1, len(places)))
	most := min(maxPositions, len(places)/4)
	again := make([]float64, most+1)
	best := 0.0
	for lag := leastTeeth; lag <= most; lag++ {
		asked, found := 0, 0
		for _, i := range empty {
			if i+lag >= len(places) {
				break
			}
			asked++
			if !places[i+lag] {
				found++
			}
		}
		if asked > 0 {
			again[lag] = float64(found)/float64(asked) - base
		}
		best = max(best, again[lag])
	}
	for lag := leastTeeth; lag <= most; lag++ {
		if best > emptyAgain && again[lag] > nearlyBest*best {
			return lag, true
		}
	}
	return 0, false
}

// voted lets the same place of three turns before and after say whether a tooth
// stands at each.
func voted(places []bool, n int) []bool {
	const around = 3
	out := make([]bool, len(places))
	for i := range places {
		yes, all := 0, 0
		for k := max(i-around*n, i%n); k <= i+around*n && k < len(places); k += n {
			all++
			if places[k] {
				yes++
			}
		}
		out[i] = 2*yes > all
	}
	return out
}

// stretchesOf counts teeth between empty places, without the first, whose
// beginning was not seen, and the last.
func stretchesOf(places []bool) (out []stretch) {
	s := stretch{}
	for _, tooth := range places {
		switch {
		case tooth && s.missing > 0:
			out, s = append(out, s), stretch{marks: 1}
		case tooth:
			s.marks++
		default:
			s.missing++
		}
	}
	return out[min(1, len(out)):]
}
