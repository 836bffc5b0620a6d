package order

import (
	"math"
	"testing"
)

// Six slots of two places each; the first hears a tail that is as strong as its
// own firing, the second next to none.
func slotsHeard(work []float64) (loudness []float64, starts []int) {
	fireless, tail, firing := [2]float64{0.1, 0.05}, [2]float64{1, 0.05}, [2]float64{1, 4}
	for k, w := range work {
		last := work[(k+len(work)-1)%len(work)]
		starts = append(starts, 2*k)
		for d := range 2 {
			loudness = append(loudness, math.Sqrt(fireless[d]+last*last*tail[d]+w*w*firing[d]))
		}
	}
	return loudness, starts
}

// Two dead ones in a row show what sounds without fire and what is the tail of the
// firing before; with it, what a cut takes from its own slot and from the next.
func TestDeadSlotsShowWhatACutLeavesAndTakesFromTheNextSlot(t *testing.T) {
	work := []float64{1, 1, 0, 0, 1, 1}
	loudness, starts := slotsHeard(work)
	v := voicesOf(loudness, starts, work)
	_, quiet, behind := v.loudnessInCut(loudness, cutGains{1, 1})
	cut := []float64{1, 0, 0, 0, 1, 1}
	want, _ := slotsHeard(cut)
	for d := range 2 {
		if got := quiet[2+d]; math.Abs(got-want[2+d]) > 0.15*loudness[2+d] {
			t.Errorf("place %d of the cut slot is %.2f loud, want %.2f (before %.2f)", d, got, want[2+d], loudness[2+d])
		}
		if got := behind[4+d]; math.Abs(got-want[4+d]) > 0.2*loudness[4+d] {
			t.Errorf("place %d of the dead slot behind it is %.2f loud, want %.2f (before %.2f)", d, got, want[4+d], loudness[4+d])
		}
	}
}

// Where all work, nothing shows what a firing leaves: the prior says it.
func TestWhatAFiringLeavesIsThePriorWhereAllWork(t *testing.T) {
	work := []float64{1, 1, 1, 1, 1, 1}
	loudness, starts := slotsHeard(work)
	v := voicesOf(loudness, starts, work)
	_, quiet, _ := v.loudnessInCut(loudness, cutGains{1, 1})
	for p, l := range loudness {
		if math.Abs(quiet[p]/l-goneRest) > 0.02 {
			t.Errorf("place %d keeps %.2f of its loudness, want %.2f", p, quiet[p]/l, goneRest)
		}
	}
}

// Firings grow louder in a cut, valves do not.
func TestValvesDoNotGrowLouderWithTheLoad(t *testing.T) {
	work := []float64{1, 1, 0, 0, 1, 1}
	loudness, starts := slotsHeard(work)
	v := voicesOf(loudness, starts, work)
	full, _, _ := v.loudnessInCut(loudness, cutGains{1.5, 1})
	if rise := full[3] / loudness[3]; rise < 1.4 {
		t.Errorf("a firing is %.2f times as loud, want some 1.5", rise)
	}
	if rise := full[7] / loudness[7]; rise > 1.1 {
		t.Errorf("a slot behind two dead ones is %.2f times as loud, want 1", rise)
	}
}
