package order

import (
	"math"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// A cycle of five slots of which three are quiet in the cut: what stays of the cut
// one is told by the slots as they were before, and by those that still fire.
func TestRestIsToldWhereMostAreQuiet(t *testing.T) {
	layout, err := engine.Parse("i5")
	if err != nil {
		t.Fatal(err)
	}
	pulses := func(work ...float64) []float64 {
		out := make([]float64, 5*perSlot)
		for k, w := range work {
			for i := range perSlot / 2 {
				out[k*perSlot+perSlot/4+i] = w * math.Sin(math.Pi*float64(i)/(perSlot/2))
			}
		}
		return out
	}
	before, during := pulses(1, 1, 0.2, 0.2, 1), pulses(1.3, 0.26, 0.26, 0.26, 1.3)
	c := newCut(before, layout, false)
	places, width := placesOf(layout, len(during))
	again := c
	again.base = cutAt(during, places, width, c.starts[0]).base
	a, b := c.strengths(before), again.strengths(during)
	k := quietestNew(a, b)
	if rest := b[k] / (a[k] * changeOfOthers(a, b, k)); math.Abs(rest-0.2) > 0.03 {
		t.Errorf("%.2f of the firing stays, want 0.20 (before %.2f, in the cut %.2f)", rest, a, b)
	}
}

// quietestNew is the slot that lost most.
func quietestNew(before, during []float64) (slot int) {
	for k := range before {
		if before[k]-during[k] > before[slot]-during[slot] {
			slot = k
		}
	}
	return slot
}

// Where the firing before sounds on, two dead ones that follow each other are
// quiet in two steps, and a cut behind a dead one must not make the louder of them
// a weak one.
func TestCutBehindADeadOneLeavesOpenWhatStaysBehindAFiring(t *testing.T) {
	e := evidence{strength: []float64{1, 0.6, 0.2, 1, 1, 1}, spread: []float64{0.02, 0.02, 0.02, 0.02, 0.02, 0.02}}
	all := finding.AllWork(6)
	gain := func(left []left) float64 {
		v := e.leaves(left).ready()
		return logSum(v.logLikelihoods(workOf(all.With(1, finding.Dead).With(2, finding.Dead)))) - logSum(v.logLikelihoods(workOf(all.With(1, finding.Weak).With(2, finding.Dead))))
	}
	if open, known := gain(afterDead(0.2)), gain(afterFiring(0.2, 0, 1)); open < known+1 {
		t.Errorf("dead against weak: %.1f with a cut behind a dead one, %.1f behind a firing", open, known)
	}
}

// The first of two dead ones is half as loud as a firing, for the one before it
// sounds on, and the firing behind both has lost as much.
func TestAFiringThatSoundsOnHidesTheFirstOfTwoDeadOnes(t *testing.T) {
	const first, second, behind = 0.65, 0.2, 0.8
	e := evidence{strength: []float64{1, first, second, behind, 1, 1}, spread: []float64{0.02, 0.02, 0.02, 0.02, 0.02, 0.02}}
	plain := newTable([]evidence{e}, ratio{}, 6)
	both := finding.AllWork(6).With(1, finding.Dead).With(2, finding.Dead)
	gain := func(t *table, other finding.Pattern) float64 {
		_, a := t.both(t.bands(both))
		_, b := t.both(t.bands(other))
		return a - b
	}
	for _, other := range []finding.Pattern{both.With(1, finding.Works), both.With(1, finding.Weak)} {
		if knows, plain := gain(plain.soundsOn(), other), gain(plain, other); knows < plain+3 {
			t.Errorf("both dead against %s: %.1f, and %.1f without the tail; want more", other, knows, plain)
		}
	}
	healthy := evidence{strength: []float64{1, 0.9, 1, 1.1, 1, 1}, spread: e.spread}
	if v := gain(newTable([]evidence{healthy}, ratio{}, 6).soundsOn(), finding.AllWork(6)); v > 0 {
		t.Errorf("firings all alike speak for two dead ones by %.1f", v)
	}
}

// In a cut that nearly stalls the engine a dead cylinder leaves less than at the
// speed before: two that left more then are dead, not weak, and where the speed
// held, what stays tells the two apart as before.
func TestAStallingCutLeavesOpenWhatStaysAtSpeed(t *testing.T) {
	const before, inCut = 0.36, 0.10
	e := evidence{strength: []float64{before, 1, 1, before}, spread: []float64{0.01, 0.01, 0.01, 0.01}}
	all := finding.AllWork(4)
	gain := func(slower float64) float64 {
		v := e.leaves(afterFiring(inCut, 0.01, slower)).ready()
		like := func(states ...finding.State) float64 {
			return logSum(v.logLikelihoods(workOf(all.With(0, states[0]).With(3, states[1]))))
		}
		return like(finding.Dead, finding.Dead) - like(finding.Weak, finding.Weak)
	}
	held, stalling := gain(1), gain(1.8)
	if stalling < held+0.5 {
		t.Errorf("dead against weak: %.1f where the speed held, %.1f where it nearly halved", held, stalling)
	}
	if total := func() (sum float64) {
		for _, l := range afterFiring(inCut, 0, 3) {
			sum += l.weight
		}
		return sum
	}(); math.Abs(total-1) > 1e-9 {
		t.Errorf("weights sum to %.3f", total)
	}
}
