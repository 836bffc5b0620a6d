package plan

import "math"

// A table of logarithms: the search takes millions of them and needs six
// figures.
const (
	logBits     = 11
	mantissa    = 52
	exponentOne = 1023
)

var logs = func() (t [1<<logBits + 1]float64) {
	for i := range t {
		t[i] = math.Log2(1 + float64(i)/(1<<logBits))
	}
	return t
}()

// log2 is the logarithm to base 2 of a positive normal number to within 1e-7,
// by the table and a straight line between its entries.
func log2(x float64) float64 {
	b := math.Float64bits(x)
	i := b >> (mantissa - logBits) & (1<<logBits - 1)
	rest := float64(b&(1<<(mantissa-logBits)-1)) / (1 << (mantissa - logBits))
	return float64(int(b>>mantissa)-exponentOne) + logs[i] + rest*(logs[i+1]-logs[i])
}
