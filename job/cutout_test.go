package job

import (
	"strings"
	"testing"

	"halforder/finding"
	"halforder/reason/fault"
)

// A cut-out finding on a card moves the card's belief by its strength, and not at
// all once it is taken back: it is evidence, not a typed yes or no.
func TestCutOutFindingMovesTheCardsBelief(t *testing.T) {
	l := layout(t, "i6")
	sum := strings.Repeat("ab", 32)
	dead := func(bodies ...Body) float64 {
		b, err := fold(t, bodies...).Belief(catalogue(t))
		if err != nil {
			t.Fatal(err)
		}
		return b.Cylinders(nil, fault.Idle)[2].Dead
	}
	found := func(nats float64) []Body {
		all := finding.AllWork(6)
		like := &finding.Likelihood{Log: map[finding.Pattern]float64{all: -nats, all.With(l.Position(3), finding.Dead): 0}, Else: -nats - 3}
		return []Body{&Recorded{SHA256: sum, Bytes: 1, Name: "test.csv", Sensor: "cut-out test", Regime: fault.Idle},
			&Found{SHA256: sum, Finding: finding.Finding{Analysis: "cutout/1", Verdict: finding.Misfire, Likelihood: like}}}
	}
	before, weak, strong := dead(), dead(found(1)...), dead(found(6)...)
	if !(before < weak && weak < strong && strong > 0.8) {
		t.Errorf("cylinder 3 dead: %.3f before, %.3f after a weak finding, %.3f after a strong one", before, weak, strong)
	}
	if back := dead(append(found(6), &Undone{Seq: 3})...); back > before+1e-9 || back < before-1e-9 {
		t.Errorf("taken back: %.6f, want %.6f", back, before)
	}
}
