package job

import (
	"math"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// worked is the evidence of a dead coil: cylinder 3 does nothing, the miss
// follows its coil to 5, the coil is renewed.
func worked() []Body {
	return []Body{
		&Entered{Check: "cut", Regime: fault.Idle, Results: []Result{{Cylinder: 3, Outcome: "none"}}},
		&Entered{Check: "cut", Regime: fault.Idle, Results: results("normal", 1, 2, 4, 5, 6)},
		swap("coil", 3, 5),
		&SwapWatched{Swap: 4, Outcome: belief.Follows, Before: belief.Present, BeforeS: 60, AfterS: 60, Regime: fault.Idle},
		&Repaired{Part: "coil", Cylinder: 5, NewPart: "coil G"},
	}
}

func results(outcome string, cylinders ...engine.Cylinder) []Result {
	var out []Result
	for _, c := range cylinders {
		out = append(out, Result{Cylinder: c, Outcome: outcome})
	}
	return out
}

func prove(t *testing.T, c *Card, w Watch) *Proved {
	t.Helper()
	p, err := c.Prove(catalogue(t), w)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestProofByWatching(t *testing.T) {
	c := fold(t, worked()...)
	c.Opened.EveryS = 300
	// The rule of three: no event in three times its mean interval gives 95 %
	// (published: 1 − e⁻³ = 0.9502).
	p := prove(t, c, Watch{Regime: fault.Idle, WatchedS: 900})
	if !p.Proven || math.Abs(p.Confidence-0.9502) > 1e-4 {
		t.Errorf("15 min without a miss that came every 5: %+v, want proven at 0.9502", p)
	}
	for name, w := range map[string]Watch{
		"too short":         {Regime: fault.Idle, WatchedS: 600},
		"it missed":         {Regime: fault.Idle, WatchedS: 900, Misses: 1},
		"another condition": {Regime: fault.Loaded, WatchedS: 9000},
	} {
		if p := prove(t, c, w); p.Proven || p.Why == "" {
			t.Errorf("%s: %+v, want not proven and why", name, p)
		}
	}
}

func TestIdleProvesNothingOfAComplaintUnderLoad(t *testing.T) {
	c := fold(t, worked()...)
	c.Opened.Regime = fault.Loaded
	if p := prove(t, c, Watch{Regime: fault.Idle, WatchedS: 9000}); p.Proven || !strings.Contains(p.Why, "load") {
		t.Errorf("%+v, want not proven because of load", p)
	}
}

func TestNoProofOfWhatWasNeverSeen(t *testing.T) {
	c := fold(t, &Repaired{Part: "coil", Cylinder: 5, NewPart: "coil G"})
	if p := prove(t, c, Watch{Regime: fault.Idle, WatchedS: 9000}); p.Proven {
		t.Errorf("a repair without any measure before it was proven: %+v", p)
	}
}

func TestProofByRecordings(t *testing.T) {
	sum := func(letter string) string { return strings.Repeat(letter, 64) }
	sound := func(letter string) *Recorded {
		return &Recorded{SHA256: sum(letter), Sensor: "sound", Regime: fault.Idle, Seconds: 40}
	}
	verdict := func(letter string, v finding.Verdict) *Found {
		return &Found{SHA256: sum(letter), Finding: finding.Finding{Verdict: v, Sentence: "…"}}
	}
	coil := &Repaired{Part: "coil", Cylinder: 5, NewPart: "coil G"}
	after := func(v finding.Verdict) Watch {
		return Watch{Regime: fault.Idle, WatchedS: 40, After: sound("b"), Finding: &verdict("b", v).Finding}
	}
	rough := fold(t, sound("a"), verdict("a", finding.Misfire), coil)
	if p := prove(t, rough, after(finding.NoMisfire)); !p.Proven || p.Before != sum("a") || p.After != sum("b") {
		t.Errorf("missing before, sound after: %+v, want proven", p)
	}
	for _, v := range []finding.Verdict{finding.Misfire, finding.CannotTell} {
		if p := prove(t, rough, after(v)); p.Proven {
			t.Errorf("%q after the repair was taken for a proof: %+v", v, p)
		}
	}
	unclear := fold(t, sound("a"), verdict("a", finding.CannotTell), coil)
	if p := prove(t, unclear, after(finding.NoMisfire)); p.Proven {
		t.Errorf("proven although the miss was never measured: %+v", p)
	}
	if p := prove(t, fold(t, coil), after(finding.NoMisfire)); p.Proven {
		t.Errorf("proven without a recording from before: %+v", p)
	}
}
