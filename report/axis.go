package report

import (
	"math"
	"strconv"
)

// axis maps values to picture units: from at the low end of the range, to at
// the high end.
type axis struct {
	low, high float64
	from, to  float64
}

func (a axis) at(v float64) float64 {
	if a.high == a.low {
		return (a.from + a.to) / 2
	}
	return a.from + (v-a.low)/(a.high-a.low)*(a.to-a.from)
}

// ticks are round values inside the range, about want of them.
func (a axis) ticks(want int) []float64 {
	step := niceStep((a.high - a.low) / float64(want))
	if step == 0 {
		return []float64{a.low}
	}
	var out []float64
	for i := math.Ceil(a.low/step - 1e-9); i*step <= a.high+step*1e-9; i++ {
		out = append(out, i*step)
	}
	return out
}

// niceStep is the least of 1, 2, 5 times a power of ten that is not below raw;
// 0 when raw is no usable number.
func niceStep(raw float64) float64 {
	if !(raw > 0) || math.IsInf(raw, 0) {
		return 0
	}
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*power*(1+1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// tickText writes a tick without the noise of binary fractions.
func tickText(v float64) string {
	if v == 0 {
		return "0" // also −0
	}
	return strconv.FormatFloat(v, 'g', 5, 64)
}

// extent is the range of all drawable values, ok false when there is none.
func extent(rows ...[]float64) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, row := range rows {
		for _, v := range row {
			if finite(v) {
				low, high, ok = min(low, v), max(high, v), true
			}
		}
	}
	return low, high, ok
}

// finite reports whether v can be drawn: ranges of larger values overflow.
func finite(v float64) bool { return math.Abs(v) < 1e100 }
