package crank

import (
	"testing"

	"halforder/finding"
)

func scattering(devs ...float64) *stillness {
	var stats []slotStats
	for _, d := range devs {
		stats = append(stats, slotStats{n: 100, dev: d})
	}
	return newStillness(stats)
}

func TestStillnessSpeaksForTheDeadOnly(t *testing.T) {
	dead := finding.AllWork(4).With(2, finding.Dead)
	other := finding.AllWork(4).With(1, finding.Dead)
	still := scattering(0.010, 0.011, 0.004, 0.009)
	if got := still.say(dead); got < 1 || got > mostStillness {
		t.Errorf("a cylinder that scatters 0.4 of the others says %.2f for dead, want 1 to %g", got, mostStillness)
	}
	if got := still.say(other); got != 0 {
		t.Errorf("one that scatters like the others says %.2f for dead, want nothing", got)
	}
	if got := scattering(0.01, 0.01, 0.01, 0.01).say(dead); got != 0 {
		t.Errorf("where all scatter alike stillness says %.2f, want nothing", got)
	}
	if got := scattering(0.01, 0.01, 0.02, 0.01).say(dead); got != 0 {
		t.Errorf("one that scatters more than the others says %.2f for dead, want nothing", got)
	}
}

func TestFewFiringsSayLessOfStillness(t *testing.T) {
	dead := finding.AllWork(4).With(2, finding.Dead)
	devs := []float64{0.01, 0.01, 0.005, 0.01}
	var few []slotStats
	for _, d := range devs {
		few = append(few, slotStats{n: 8, dev: d})
	}
	if many, some := scattering(devs...).say(dead), newStillness(few).say(dead); !(some < many) {
		t.Errorf("8 firings say %.2f, 100 say %.2f: want less", some, many)
	}
}

func TestStillnessUnknownSaysNothing(t *testing.T) {
	for _, devs := range [][]float64{{0.01}, {0.01, 0}, nil} {
		if got := scattering(devs...).say(finding.AllWork(2).With(1, finding.Dead)); got != 0 {
			t.Errorf("scatters %v say %.2f, want nothing", devs, got)
		}
	}
}
