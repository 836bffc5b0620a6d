package order

import (
	"math"
	"testing"
)

// However much worse a hypothesis fits after a moment, a slip there explains it:
// it is no less likely than slipChance over the frames and hypotheses makes it.
// What parts them before any slip counts in full.
func TestSlipsBoundWhatALostPhaseCanClaim(t *testing.T) {
	const frames = 100
	logs := make([][]float64, 3)
	for j := range logs {
		for i := range frames {
			logs[j] = append(logs[j], -float64(i)*[]float64{0, 10, 10}[j])
		}
	}
	s := newSlips(logs)
	least := math.Log(slipChance / frames / 2)
	if d := s.all[1] - s.all[0]; d < least-0.1 || d > least+1 {
		t.Errorf("a hypothesis that loses 10 a frame is at %.1f, want about %.1f: a slip at once", d, least)
	}
	kept := s.kept(0)
	if kept[0] < 0.9 || kept[frames-1] < 0.9 {
		t.Errorf("the best hypothesis has kept its phase with a chance of %v", kept[:3])
	}
	if lost := s.kept(1); lost[1] > 0.1 {
		t.Errorf("the worst one is said to have kept its phase: %.3f", lost[1])
	}
}

// Cycles that slipped by a firing are left out, those since are kept.
func TestInStepKeepsWhatFollowsASlip(t *testing.T) {
	const n, harmonics, slippedUntil = 4, 12, 24
	var cycles []cycle
	for c := range 60 {
		k := cycle{phasors: make([]complex64, harmonics)}
		for h := 1; h <= harmonics; h++ {
			v := complex(1, float64(c%3)*0.05)
			if h%n == 0 {
				v *= 3
			}
			k.phasors[h-1] = complex64(v)
		}
		if c < slippedUntil {
			turnBy(k.phasors, harmonics, 1.0/n)
		}
		cycles = append(cycles, k)
	}
	if got := len(inStep(cycles, 1, harmonics, n)); got > 60-slippedUntil || got < 60-slippedUntil-stepCycles {
		t.Errorf("kept %d cycles, want up to %d since the slip", got, 60-slippedUntil)
	}
	if got := len(inStep(cycles[slippedUntil:], 1, harmonics, n)); got != 60-slippedUntil {
		t.Errorf("kept %d of %d steady cycles", got, 60-slippedUntil)
	}
}

// Where one hypothesis fits up to a moment and another from then on, the phase was
// lost: before or after, so neither may claim to be the true one.
func TestNeitherSideOfASlipIsSure(t *testing.T) {
	const frames, slip = 100, 40
	logs := make([][]float64, 3)
	sum := [3]float64{}
	for i := range frames {
		fits := 0
		if i >= slip {
			fits = 1
		}
		for j := range logs {
			if j != fits {
				sum[j] -= 2
			}
			logs[j] = append(logs[j], sum[j])
		}
	}
	s := newSlips(logs)
	if d := s.right[0] - s.right[1]; math.Abs(d) > 0.5 {
		t.Errorf("the hypothesis before the slip is ahead of that after it by %.1f", d)
	}
	if d := s.right[0] - s.right[2]; d < 5 {
		t.Errorf("one that never fits is behind by %.1f only", d)
	}
	for i := range frames { // no slip
		logs[0][i], logs[1][i], logs[2][i] = 0, -2*float64(i), -2*float64(i)
	}
	if s := newSlips(logs); s.right[0]-s.right[1] < 6 {
		t.Errorf("one that always fits is ahead by %.1f only", s.right[0]-s.right[1])
	}
}
