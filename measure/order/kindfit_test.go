package order

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The standard library is the outside value, up to rounding.
func TestHalfPowers(t *testing.T) {
	for _, x := range []float64{0, 1e-30, 0.3, 1} {
		for halves := range 40 {
			if got, want := halfPower(x, halves), math.Pow(x, float64(halves)/2); math.Abs(got-want) > 1e-14*want {
				t.Errorf("%g to the power of %d halves is %g, want %g", x, halves, got, want)
			}
		}
	}
}

// The logarithm of a product is the sum of the logarithms, however small and
// large the factors.
func TestLogarithmOfAProduct(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	p, want := newLogProduct(), 0.0
	for range 1000 {
		log := 600 * r.NormFloat64() / (1 + 100*r.Float64())
		log = min(max(log, math.Log(1e-290)), math.Log(1e290))
		p.take(math.Exp(log))
		want += log
	}
	if got := p.log(); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
		t.Errorf("logarithm %g, want %g", got, want)
	}
}
