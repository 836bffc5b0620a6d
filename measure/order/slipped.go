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
	for kind := range loud {
		loud[kind] = make([]float64, r.n)
		for s := range r.n {
			for _, energy := range r.energies() {
				var sum, total float64
				for c, q := range k.chance {
					if kind == 0 {
						q = 1 - q
					}
					sum, total = sum+q*energy[k.first+c*r.n+s], total+q
				}
				loud[kind][s] += math.Log(max(sum/max(total, 1e-9), 1e-9))
			}
		}
	}
	for d := 1; d < r.n; d++ {
		if apartBy(loud, d) < slipLeft*apartBy(loud, 0) {
			return true
		}
	}
	return false
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
