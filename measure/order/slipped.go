package order

import "math"

// A slip of the count of firings makes two lasting kinds of cycles that sound
// alike but for where they begin. Judgement: a kind lasts where a cycle tells
// the next with slipStays, and the turned one must explain most of the
// difference.
const (
	slipStays = 0.7
	slipLeft  = 0.3 // of the squared difference
)

// slipped reports whether the second kind of cycles is the first, turned.
func (r *beatRun) slipped(k kinds) bool {
	if len(k.chance) == 0 || k.stay[1][1]-k.stay[0][1] < slipStays {
		return false
	}
	var loud [2][]float64
	for s := range r.n {
		usual, other := r.loudness(k, s)
		loud[0], loud[1] = append(loud[0], usual), append(loud[1], other)
	}
	for d := 1; d < r.n; d++ {
		if apartBy(loud, d) < slipLeft*apartBy(loud, 0) {
			return true
		}
	}
	return false
}

// loudness of a place of the cycle in each kind of cycles: the logarithms of its
// mean energies, over all bands.
func (r *beatRun) loudness(k kinds, slot int) (usual, other float64) {
	for _, energy := range r.energies() {
		var sums, totals [2]float64
		for c, q := range k.chance {
			e := energy[k.first+c*r.n+slot]
			sums[0], totals[0] = sums[0]+(1-q)*e, totals[0]+1-q
			sums[1], totals[1] = sums[1]+q*e, totals[1]+q
		}
		usual += math.Log(max(sums[0]/max(totals[0], 1e-9), 1e-9))
		other += math.Log(max(sums[1]/max(totals[1], 1e-9), 1e-9))
	}
	return usual, other
}

// apartBy is how far the second list, turned by d, lies from the first, beside
// a level.
func apartBy(loud [2][]float64, d int) (square float64) {
	n := len(loud[0])
	level := mean(loud[1]) - mean(loud[0])
	for s := range n {
		v := loud[1][(s+d)%n] - loud[0][s] - level
		square += v * v
	}
	return square
}
