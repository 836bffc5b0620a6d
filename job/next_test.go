package job

import (
	"fmt"
	"slices"
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

// A recording that tells answers whether it misses: another is not asked for, until the
// car has been changed. One that cannot tell may be repeated once.
func TestRecordingsAreNotAskedForWithoutEnd(t *testing.T) {
	sum := &Recorded{SHA256: string(make([]byte, 64)), Sensor: "sound", Regime: fault.Idle}
	cold := &Recorded{SHA256: string(make([]byte, 63)) + "c", Sensor: "sound", Regime: fault.Cold}
	found := func(r *Recorded, v finding.Verdict) *Found {
		return &Found{SHA256: r.SHA256, Finding: finding.Finding{Verdict: v}}
	}
	for _, c := range []struct {
		bodies []Body
		asked  bool
	}{
		{nil, true},
		{[]Body{sum, found(sum, finding.Misfire)}, false},
		{[]Body{sum, found(sum, finding.NoMisfire)}, false},
		{[]Body{sum, found(sum, finding.CannotTell)}, true},
		{[]Body{sum, found(sum, finding.CannotTell), found(sum, finding.CannotTell)}, false},
		{[]Body{cold, found(cold, finding.NoMisfire)}, true},
		{[]Body{sum, found(sum, finding.Misfire), &Repaired{Words: "x"}}, true},
	} {
		if got := !slices.Contains(fold(t, c.bodies...).Circumstances().Forbids, recordCheck); got != c.asked {
			t.Errorf("after %d entries: a recording asked for: %v, want %v", len(c.bodies), got, c.asked)
		}
	}
}
