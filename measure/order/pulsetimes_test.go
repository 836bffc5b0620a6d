package order

import (
	"math"
	"testing"
)

// A firing heard a little late, by a longer way to the microphone, is as loud as
// the others; one that is missing stays missing wherever it is sought.
func TestPulseThatComesLateIsNotFaint(t *testing.T) {
	layout := parse(t, "1-5-3-6-2-4")
	const gone, late = 3, 1
	activity := make([]float64, perSlot*layout.N())
	for k := range layout.N() {
		middle, height := float64(k*perSlot+perSlot/2), 1.0
		switch k {
		case late:
			middle += pulseReach - 1
		case gone:
			height = 0.1
		}
		for i := range activity {
			z := (float64(i) - middle) / (perSlot / 24)
			activity[i] += height * math.Exp(-z*z/2)
		}
	}
	c := newCut(activity, layout, false)
	before := c.strengths(activity)
	c.seekPulses(activity)
	after := c.strengths(activity)
	if before[late] > 0.9 {
		t.Errorf("the late pulse is heard as %.2f where it should be: the test tries nothing", before[late])
	}
	if math.Abs(after[late]-1) > 0.05 {
		t.Errorf("the late pulse is %.2f, want 1", after[late])
	}
	if math.Abs(after[gone]-0.1) > 0.05 {
		t.Errorf("the missing one is %.2f, want 0.1", after[gone])
	}
}
