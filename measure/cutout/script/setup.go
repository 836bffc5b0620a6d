package script

import (
	"fmt"
	"time"

	"halforder/engine"
	"halforder/measure/cutout"
)

// Sample is what the stream knows at a moment. Fields that are not known are 0.
type Sample struct {
	At    time.Time
	RPM   float64
	Rough float64         // grows with roughness, any unit
	Named engine.Cylinder // the cylinder just seen to go off, where the stream can tell
	Tap   bool            // somebody touched the screen: the answer to the last prompt is "done"
}

// Budget is the catalyst's say. See cutout.NewBudget.
type Budget interface {
	// Before says how many seconds a cut may last from now, the hard end, and
	// how long to wait first (negative: never), with a reason.
	Before(at time.Time, cut []engine.Cylinder) (seconds, hard, wait float64, why string)
	// Begin and End book the cut.
	Begin(at time.Time, cut []engine.Cylinder)
	End(at time.Time)
	// Stop reports whether whatever runs must end now, and why.
	Stop(at time.Time) (stop bool, why string)
}

// Plan says which unit to cut next, given the cuts marked so far; ok false ends
// the test, why is then the closing sentence.
type Plan func(marks []cutout.Mark) (next cutout.Unit, ok bool, why string)

// Setup is what the script needs.
type Setup struct {
	Layout engine.Layout
	Plan   Plan
	Budget Budget // nil: five seconds wanted, ten at most, thirty between
	Means  cutout.Means
	Idle   float64 // speed that counts as running, rpm; 0: 400
}

// fixedBudget is for no budget: the trade's seconds (trade notes 3.1).
type fixedBudget struct {
	began, ended time.Time
}

func (b *fixedBudget) Before(at time.Time, _ []engine.Cylinder) (seconds, hard, wait float64, why string) {
	if !b.ended.IsZero() {
		wait = max(30-at.Sub(b.ended).Seconds(), 0)
	}
	return 5, 10, wait, "Thirty seconds between cuts."
}
func (b *fixedBudget) Begin(at time.Time, _ []engine.Cylinder) { b.began = at }
func (b *fixedBudget) End(at time.Time)                        { b.began, b.ended = time.Time{}, at }
func (b *fixedBudget) Stop(at time.Time) (bool, string) {
	return !b.began.IsZero() && at.Sub(b.began) > 10*time.Second, "Ten seconds are the most."
}

func (s Setup) check() error {
	if !s.Layout.Valid() {
		return fmt.Errorf("cut-out script: no engine layout given")
	}
	if s.Plan == nil {
		return fmt.Errorf("cut-out script: no plan given: it says which cylinder comes next")
	}
	return nil
}
