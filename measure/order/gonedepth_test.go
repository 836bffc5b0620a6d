package order

import (
	"math"
	"testing"
)

// Two bands of a two-slot cycle: the first loses half of what it could, the
// second is all noise and keeps the prior.
func TestDepthsAreLearntWhereTheBandIsClear(t *testing.T) {
	const places = 4
	flat := func(v float64) []float64 { return []float64{v, v, v, v} }
	sure := part{mean: flat(1), inverse: flat(10), log: flat(0)}
	silent := part{mean: flat(0), inverse: flat(10), log: flat(0)}
	vague := part{mean: flat(0), inverse: flat(1e-6), log: flat(0)}
	h := heardAs{before: matrix(1, places), bands: []bandAs{{full: sure, quiet: silent, behind: sure}, {full: sure, quiet: vague, behind: vague}}, starts: []int{0, 2}, weight: 1}
	heard := newHeardWork(2, places)
	for p := range places {
		heard.counts[p] = 50
		heard.sums[0][p], heard.sums[1][p] = 25, 50
	}
	depths, price := h.depths(1, heard)
	if math.Abs(depths[0]-0.5) > 0.01 || math.Abs(depths[1]-usualDepth) > 0.01 {
		t.Errorf("depths %.3f, want 0.5 as heard and %.1f as nothing was", depths, usualDepth)
	}
	if price >= 0 || price < -10 {
		t.Errorf("learning one depth costs %.1f, want some nats below none", price)
	}
}

// A hum at the firing frequency goes, a ring well above it stays.
func TestWithoutHumKeepsTheRing(t *testing.T) {
	const rate, firing = 1000.0, 1 / 25.0
	size := func(hz float64) float64 {
		row := make([]float32, 3000)
		for i := range row {
			row[i] = float32(math.Sin(2 * math.Pi * hz * float64(i) / rate))
		}
		var power float64
		for _, v := range withoutHum(row, int(math.Round(rate*firing/humFirings)))[500:2500] {
			power += float64(v) * float64(v) / 2000
		}
		return math.Sqrt(2 * power)
	}
	if s := size(30); s > 0.2 { // 1 − sinc²(7·30/1000) is 0.14
		t.Errorf("the hum keeps %.2f of its size", s)
	}
	if s := size(350); s < 0.8 {
		t.Errorf("the ring keeps only %.2f", s)
	}
}

func TestSentencesAboutSeveralCylinders(t *testing.T) {
	for _, c := range []struct {
		want      string
		cylinders []string
	}{
		{"Cylinder 3 does nothing.", []string{"3"}},
		{"Cylinders 3 and 5 do nothing.", []string{"3", "5"}},
		{"Cylinders 1, 3 and 5 do nothing.", []string{"1", "3", "5"}},
	} {
		if got := about(c.cylinders, "does nothing", "do nothing"); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
