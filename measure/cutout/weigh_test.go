package cutout

import (
	"math"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// measuredAs is a channel in which each cylinder of a four was cut once, with these
// effects, a healthy one's being 1.
func measuredAs(effects ...float64) channel {
	ch := channel{off: alwaysOff}
	for _, v := range effects {
		ch.cuts = append(ch.cuts, []Estimate{{v, 0.05}})
	}
	ch.scales, ch.logP = logNormal(1, 0.02, 8)
	return ch
}

// accusation is how much likelier it is that cylinder 2 is in a state than that it
// works, natural logarithm.
func accusation(t *testing.T, s finding.State, channels ...channel) float64 {
	t.Helper()
	l, err := engine.Parse("1-3-4-2")
	if err != nil {
		t.Fatal(err)
	}
	var cuts []Cut
	for c := range l.N() {
		cuts = append(cuts, Cut{Cylinders: []engine.Cylinder{engine.Cylinder(c + 1)}})
	}
	var posts [][]float64
	for _, ch := range channels {
		posts = append(posts, make([]float64, len(ch.scales)))
	}
	patterns := patternsOf(l)
	w := newWeigher(l, cuts, channels, together(channels, posts), usualMix(patterns, priorLog(patterns)))
	well := finding.AllWork(l.N())
	return w.log(well.With(l.Position(2), s)) - w.log(well)
}

// A connector that stayed on shows nothing in any channel, and it is one connector:
// a second channel that shows nothing either does not accuse the cylinder again.
func TestConnectorThatStayedOnCountsOnce(t *testing.T) {
	nothing := measuredAs(1, 0, 1, 1)
	one, two := accusation(t, finding.Dead, nothing), accusation(t, finding.Dead, nothing, nothing)
	if one < 3 || one > -math.Log(noCutP) {
		t.Errorf("by one channel dead is e^%.1f times as likely, want clearly, and less than a connector stays on", one)
	}
	if two-one > 1 {
		t.Errorf("a second channel that shows nothing makes dead e^%.1f times likelier again", two-one)
	}
}

// Two channels that contradict each other accuse nobody: something came in between.
// Two that agree do.
func TestContradictionAccusesNobody(t *testing.T) {
	whole, little := measuredAs(1, 1, 1, 1), measuredAs(1, 0.4, 1, 1)
	if odds := accusation(t, finding.Weak, whole, little); odds > 2 {
		t.Errorf("one channel at 1 and one at 0.4: weak is e^%.1f times as likely", odds)
	}
	if odds := accusation(t, finding.Weak, little, little); odds < 6 {
		t.Errorf("both channels at 0.4: weak is only e^%.1f times as likely", odds)
	}
}
