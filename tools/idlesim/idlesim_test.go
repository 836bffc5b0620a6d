package idlesim

import (
	"math"
	"testing"

	"halforder/engine"
)

// mean speed in a window, of whole cycles.
func mean(t Trace, from, to float64) float64 {
	at, v := t.Sample(RPM, 40, 0, 0, 1)
	var sum, n float64
	for i, x := range at {
		if x >= from && x < to {
			sum, n = sum+v[i], n+1
		}
	}
	return sum / n
}

// Trade notes 3.1: at fixed air the drop is at most N/n and has a time constant
// of 0.6–0.7 s; with idle control it is 80–150 rpm on a four and recovers.
func TestDropOfAFour(t *testing.T) {
	l, _ := engine.Parse("i4")
	cut := []Cut{{10, 20, []engine.Cylinder{3}}}
	fixed := Healthy(l)
	fixed.Spark, fixed.Air, fixed.Integral, fixed.Wander = 0, 0, 0, 0
	tr := Run(fixed, cut, nil, 30, 1)
	before, end, early := mean(tr, 5, 10), mean(tr, 14, 20), mean(tr, 10.70, 10.78) // a cycle's mean lags by half a cycle, 0.08 s
	if d := before - end; d < 170 || d > 200 {
		t.Errorf("drop at fixed air %.0f rpm, want about 188", d)
	}
	if share := (before - early) / (before - end); share < 0.5 || share > 0.75 {
		t.Errorf("after 0.65 s %.2f of the drop is there, want about 1−1/e", share)
	}
	held := Run(Healthy(l), cut, nil, 30, 1)
	if d := mean(held, 5, 10) - mean(held, 10.5, 10.9); d < 50 || d > 150 {
		t.Errorf("early drop under idle control %.0f rpm", d)
	}
	if d := mean(held, 5, 10) - mean(held, 14, 19); math.Abs(d) > 15 {
		t.Errorf("idle control leaves %.0f rpm", d)
	}
}
