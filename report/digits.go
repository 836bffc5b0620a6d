package report

import (
	"math"

	"halforder/finding"
)

// lastPlace is the last decimal place worth writing: about a tenth of the width
// of the bounds, or a hundredth of the value where it has none.
func lastPlace(q finding.Quantity) float64 {
	width := (q.High - q.Low) / 2
	if !(width > 0) || !finite(width) {
		width = math.Abs(q.Value) / 50
	}
	if !(width > 0) || !finite(width) {
		return 0
	}
	return math.Pow(10, math.Floor(math.Log10(width/2)))
}

// roundTo rounds to a step; 0 leaves the value.
func roundTo(v, step float64) float64 {
	if step == 0 || !finite(v) {
		return v
	}
	if step < 1 { // dividing by a whole number keeps decimals clean
		return math.Round(v*math.Round(1/step)) / math.Round(1/step)
	}
	return math.Round(v/step) * step
}
