package cutout

import (
	"math"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// A cut in which the engine turned a tenth slower: what mounts do to it is not taken
// for what a cylinder did, nor for what another one lost. One at an even speed stays.
func TestLossesAllowForTheSpeed(t *testing.T) {
	l, err := engine.Parse("i4")
	if err != nil {
		t.Fatal(err)
	}
	a := analysis{Recording: Recording{Layout: l, Cycles: Cycles{Sways: motionSways}}}
	for i := range 600 {
		at, rpm := float64(i)/10, 800.0
		if at > 15 && at < 19 {
			rpm = 720
		}
		a.Speed.T, a.Speed.Y = append(a.Speed.T, at), append(a.Speed.Y, rpm)
	}
	cuts := []Cut{
		{Start: 15, End: 19, Loss: &Estimate{1, 0.02}, beside: 0.25},
		{Start: 40, End: 44, Loss: &Estimate{1, 0.02}, beside: 0.25},
	}
	a.allowForSpeed(cuts)
	// Two cuts measured of four cylinders: √(2/4) of 2 · 0.1, and the rest of noise.
	if got, want := cuts[0].Loss.Sigma, 0.2*math.Sqrt(0.5); math.Abs(got-want) > 0.01 || cuts[0].beside != 0 {
		t.Errorf("a tenth slower: loss ±%.3f and %.2f beside it, want ±%.3f and none", got, cuts[0].beside, want)
	}
	if got := cuts[1].Loss.Sigma; math.Abs(got-0.02) > 0.001 || cuts[1].beside != 0.25 {
		t.Errorf("at the same speed: loss ±%.3f and %.2f beside it, want both as they were", got, cuts[1].beside)
	}
}

// Axes that were begun at different times are read at the same ones.
func TestAxesAreReadAtTheSameTimes(t *testing.T) {
	var early, late Track
	for i := range 400 {
		at := float64(i) / 100
		early.T, early.Y = append(early.T, at-0.5), append(early.Y, math.Sin(7*(at-0.5)))
		late.T, late.Y = append(late.T, at), append(late.Y, math.Sin(7*at))
	}
	a, b := even(early, late, 100), even(late, late, 100)
	for i := 100; i < 300; i++ {
		away := (float64(a[i]) + meanThere(early.Y)) - (float64(b[i]) + meanThere(late.Y))
		if math.Abs(away) > 0.01 {
			t.Fatalf("at sample %d the axes differ by %.3f, want none", i, away)
		}
	}
}

// Three of four called cuts are seen, evenly apart. Which end is missing shows where
// the recording leaves room for it, as people are told to.
func TestRoomInTheRecordingTellsWhichEndIsMissing(t *testing.T) {
	var found []Cut
	for _, at := range []float64{24, 38, 52} {
		found = append(found, Cut{Start: at, End: at + 4, Seen: true, EndSeen: true})
	}
	called := [][]engine.Cylinder{{1}, {2}, {3}, {4}}
	for want, recorded := range map[int]span{1: {0, 68}, 0: {14, 82}} {
		best := align(found, called, recorded)[0]
		if best.cuts[want].found != 1 {
			t.Errorf("recorded from %.0f to %.0f s: the first cut found is not called cut %d", recorded.from, recorded.to, want+1)
		}
	}
}

// The more often the speed changes by itself, the less a drop that is missing says.
func TestRestlessSpeedAccusesLess(t *testing.T) {
	still := measuredAs(1, 0.3, 1, 1)
	restless := still
	restless.moved = 0.2
	a, b := accusation(t, finding.Weak, still), accusation(t, finding.Weak, restless)
	if a < 3 || b > a-1 {
		t.Errorf("weak is e^%.1f times as likely, and e^%.1f where the speed is restless: want less", a, b)
	}
}
