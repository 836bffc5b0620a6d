package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Seed 3.
func TestLog2(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for _, x := range []float64{1, 2, 0.5, 1e-300, math.Nextafter(1, 0), math.Nextafter(2, 0)} {
		closeLog(t, x)
	}
	for range 1000 {
		closeLog(t, math.Exp(40*r.NormFloat64()))
	}
}

func closeLog(t *testing.T, x float64) {
	t.Helper()
	if got, want := log2(x), math.Log2(x); math.Abs(got-want) > 1e-7 {
		t.Errorf("log2(%g) = %.9f, want %.9f", x, got, want)
	}
}
