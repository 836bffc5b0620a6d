package cutout_test

import (
	"math"
	"testing"

	"halforder/measure/cutout"
)

// A four that falls from 800 to 530 rpm within 0.2 s and is back half a second later
// (as the crank marks of the practice engine have it at a cut) is followed by motion:
// three harmonics of the cycle while one firing is missing, known phase, no noise.
func TestMotionFollowsDeepFalls(t *testing.T) {
	const rate, idle, depth = 100.0, 800.0, 270.0
	speed := func(at float64) float64 {
		since := math.Mod(at, 10) - 5
		switch {
		case since < 0 || since > 0.7:
			return idle
		case since < 0.2:
			return idle - depth*since/0.2
		}
		return idle - depth*(0.7-since)/0.5
	}
	var axes [3]cutout.Track
	phase := 0.0
	for at := 0.0; at < 60; at += 1 / rate {
		y := math.Sin(4 * phase)
		if math.Mod(at, 10) > 5 && math.Mod(at, 10) < 8 {
			y += 1.5*math.Sin(phase+1) + 1.2*math.Sin(2*phase+2)
		}
		for i, share := range []float64{0.2, 0.1, 1} {
			axes[i].T, axes[i].Y = append(axes[i].T, at), append(axes[i].Y, share*y)
		}
		phase += 2 * math.Pi * speed(at) / 120 / rate
	}
	r, err := cutout.FromMotion(axes, layout(t, "i4"), idle)
	if err != nil {
		t.Fatal(err)
	}
	for _, fall := range []float64{15, 25, 35, 45} {
		least := math.Inf(1)
		for i, at := range r.Speed.T {
			if at > fall-0.5 && at < fall+1 {
				least = min(least, r.Speed.Y[i])
			}
		}
		if least > idle-0.7*depth { // a look of 0.3 s rounds the bottom off
			t.Errorf("the fall at %.0f s reaches %.0f rpm, want about %.0f", fall, least, idle-depth)
		}
	}
}
