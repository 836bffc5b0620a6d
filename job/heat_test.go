package job

import (
	"testing"
	"time"

	"halforder/engine"
	"halforder/measure/catalyst"
)

func later(seconds float64) time.Time {
	return moment.Add(time.Duration(seconds * float64(time.Second)))
}

// sparkCuts is a session of cuts of cylinder 1 by spark, 5 s each and half a
// minute apart, and the engine off at its end.
func sparkCuts(from float64, many int) *Heated {
	cut, idle := catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{1}}, catalyst.Condition{Load: catalyst.Idle}
	h := &Heated{Setting: catalyst.Careful}
	for range many {
		h.Steps = append(h.Steps, catalyst.Step{At: later(from), Condition: cut}, catalyst.Step{At: later(from + 5), Condition: idle})
		from += 35
	}
	h.Steps = append(h.Steps, catalyst.Step{At: later(from), Condition: catalyst.Condition{Load: catalyst.Stopped}})
	return h
}

func books(t *testing.T, card *Card, at time.Time) *catalyst.Ledger {
	t.Helper()
	b, err := card.Catalyst(at, catalyst.Careful)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A later session begins with the seconds spent and the heat that is left.
func TestHeatIsKeptFromSessionToSession(t *testing.T) {
	card := fold(t, sparkCuts(0, 3))
	h := card.Heats[0]
	if h.SparkSeconds != 15 || h.PeakK[0] < 20 || h.EndK[0] >= h.PeakK[0] {
		t.Fatalf("heat of the session: %+v", h)
	}
	soon := books(t, card, later(110)).During(later(110))
	if soon.SparkLeft != 45 || soon.RecoveryLeft != 0 {
		t.Errorf("a moment later: %+v, want 45 s of spark cut left", soon)
	}
	hour := books(t, card, later(3600)).During(later(3600))
	if !(hour.RiseK[0] > 0 && hour.RiseK[0] < soon.RiseK[0]) || hour.SparkLeft != 45 {
		t.Errorf("an hour later %+v, want cooler than %+v and the same visit", hour, soon)
	}
	next := books(t, card, later(86400)).During(later(86400))
	if next.SparkLeft != 60 || next.RiseK[0] > 0.1 {
		t.Errorf("next day: %+v", next)
	}
}

// The hard stop of a later session knows what the earlier ones used up.
func TestHardStopKnowsEarlierSessions(t *testing.T) {
	card := fold(t, sparkCuts(0, 6), sparkCuts(600, 5)) // 55 of 60 s
	b := books(t, card, later(1200))
	cut := catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{2}}
	a, err := b.Before(later(1200), cut)
	if err != nil || a.Seconds != 5 || a.HardSeconds != 5 {
		t.Fatalf("%+v, %v: want the last 5 s, hard", a, err)
	}
	if err := b.Set(later(1200), cut); err != nil {
		t.Fatal(err)
	}
	if s := b.During(later(1205.1)); !s.Stop {
		t.Errorf("after the last 5 s: %+v, want stop", s)
	}
	all := fold(t, sparkCuts(0, 6), sparkCuts(600, 6))
	if a, _ := books(t, all, later(1200)).Before(later(1200), cut); a.WaitSeconds != catalyst.Never {
		t.Errorf("all 60 s are used: %+v, want never", a)
	}
}

// A clock set back neither cools nor hides new cuts, and the books handed out
// are apart from the card's.
func TestHeatSurvivesAClockSetBack(t *testing.T) {
	card := fold(t, sparkCuts(0, 3))
	before := books(t, card, later(105)).During(later(105))
	b := books(t, card, later(-5000))
	if got := b.During(later(-5000)); got.RiseK[0] != before.RiseK[0] {
		t.Errorf("clock set back: %g K, want %g", got.RiseK[0], before.RiseK[0])
	}
	b.Set(later(-5000), catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{1}})
	if got := b.During(later(-4996)); got.SparkLeft != 41 {
		t.Errorf("4 s of cut after the clock was set back: %g s left, want 41", got.SparkLeft)
	}
	if again := books(t, card, later(105)).During(later(105)); again.SparkLeft != before.SparkLeft {
		t.Error("a session changed the books of the card")
	}
}

func TestHeatedRefusals(t *testing.T) {
	for name, h := range map[string]*Heated{
		"no steps":         {Setting: catalyst.Careful},
		"no setting":       {Steps: sparkCuts(0, 1).Steps},
		"backwards":        {catalyst.Careful, []catalyst.Step{{At: later(5), Condition: catalyst.Condition{Load: catalyst.Idle}}, {At: later(1), Condition: catalyst.Condition{Load: catalyst.Idle}}}},
		"no such cylinder": {catalyst.Careful, []catalyst.Step{{At: later(5), Condition: catalyst.Condition{Load: catalyst.Idle, NoFuel: []engine.Cylinder{99}}}}},
	} {
		if _, err := Fold(1, []Event{{Seq: 1, At: moment, Body: opened(t)}, {Seq: 2, At: moment, Body: h}}); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}
