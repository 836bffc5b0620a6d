package job

import (
	"fmt"
	"testing"

	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func TestNextIsTheProofOnceTheFaultIsOut(t *testing.T) {
	cat := catalogue(t)
	first := func(c *Card) string {
		t.Helper()
		b, err := c.Belief(cat)
		if err != nil {
			t.Fatal(err)
		}
		steps, err := c.Next(b, 0, 1)
		if err != nil {
			t.Fatal(err)
		}
		if len(steps) == 0 {
			return ""
		}
		if s := steps[0]; s.Check != "" && s.Check != ProveStep {
			return fmt.Sprint("check at ", s.Cylinders[0])
		}
		return steps[0].Check + steps[0].Repair
	}
	w := worked()
	for _, c := range []struct {
		entries int
		want    string
	}{{2, "check at 3"}, {4, "coil"}, {5, ProveStep}} {
		if got := first(fold(t, w[:c.entries]...)); got != c.want {
			t.Errorf("after %d entries: %q, want %q", c.entries, got, c.want)
		}
	}
	if got := first(fold(t, append(w, &Proved{Proven: true, Confidence: 0.99, WatchedS: 300, Regime: fault.Idle})...)); got != "" {
		t.Errorf("after the proof: %q, want nothing", got)
	}
	misses := &Proved{WatchedS: 60, Misses: 9, Regime: fault.Idle}
	if got := first(fold(t, &Repaired{Part: "plug", Cylinder: 2, NewPart: "plug G"}, misses)); got == ProveStep {
		t.Error("a car that still misses is to be proven instead of looked at again")
	}
}

func TestMissNow(t *testing.T) {
	sum := &Recorded{SHA256: string(make([]byte, 64)), Sensor: "sound"}
	found := func(v finding.Verdict) *Found {
		return &Found{SHA256: sum.SHA256, Finding: finding.Finding{Verdict: v}}
	}
	for _, c := range []struct {
		bodies []Body
		want   belief.Presence
	}{
		{nil, belief.Present}, // a steady complaint
		{[]Body{sum, found(finding.NoMisfire)}, belief.Absent},
		{[]Body{sum, found(finding.CannotTell)}, belief.Present},
		{[]Body{sum, found(finding.NoMisfire), found(finding.Misfire)}, belief.Present},
		{[]Body{swap("coil", 3, 5), &SwapWatched{Swap: 2, Outcome: belief.Vanishes}}, belief.Absent},
		{[]Body{sum, found(finding.Misfire), &Repaired{Words: "x"}}, belief.Unknown},
	} {
		if got := fold(t, c.bodies...).MissNow(); got != c.want {
			t.Errorf("after %d entries: %q, want %q", len(c.bodies), got, c.want)
		}
	}
}
