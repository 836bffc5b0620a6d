package order

import (
	"math"
	"math/cmplx"
	"testing"
)

// What the orders of a pattern add up to, order by order.
func TestExpectedRatioIsThatOfTheOrders(t *testing.T) {
	for _, work := range [][]float64{{1, 0, 1, 1}, {1, 0, 0, 1, 1, 1}, {1, 0.3, 1}, {1, 1, 1, 1, 0, 0.5, 1, 1}, {1, 1, 1}} {
		n := len(work)
		var off, on float64
		for h := range n {
			var sum complex128
			for k, w := range work {
				sum += complex(w, 0) * cmplx.Rect(1, -2*math.Pi*float64(h*k)/float64(n))
			}
			if h == 0 {
				on = sq(sum)
			} else {
				off += sq(sum) / float64(n-1)
			}
		}
		if got, want := expectedRatio(work), math.Sqrt(off/on); math.Abs(got-want) > 1e-7 {
			t.Errorf("work %v: ratio %g, want %g", work, got, want)
		}
	}
}
