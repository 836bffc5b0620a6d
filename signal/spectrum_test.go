package signal

import (
	"math"
	"testing"
)

// Each value is divided by the mean about it, whatever is left of it at the ends.
func TestWhitenedDividesByTheMeanAbout(t *testing.T) {
	const n, kept = 300, 260
	w := NewWhitened(kept, 10, 60)
	power := make([]float64, n)
	for i, v := range noise(n, 4) {
		power[i] = v * v * float64(i+1)
	}
	w.Add(power)
	w.Clear()
	w.Add(power)
	for reach, got := range map[int][]float32{10: w.Near, 60: w.Far} {
		for i, v := range got {
			var sum, count float64
			for k := max(0, i-reach); k <= min(i+reach, n-1); k++ {
				sum, count = sum+power[k], count+1
			}
			if want := math.Sqrt(power[i] * count / sum); math.Abs(float64(v)-want) > 1e-5*(1+want) {
				t.Fatalf("reach %d, value %d: %g, want %g", reach, i, v, want)
			}
		}
	}
}

func TestMean(t *testing.T) {
	for _, c := range []struct {
		x    []float32
		want float32
	}{{nil, 0}, {[]float32{3}, 3}, {[]float32{1, 2, 6}, 3}, {[]float32{1, 3}, 2}} {
		if got := Mean(c.x); got != c.want {
			t.Errorf("mean of %v is %g, want %g", c.x, got, c.want)
		}
	}
}
