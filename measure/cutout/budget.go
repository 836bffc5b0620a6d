package cutout

import (
	"time"

	"halforder/engine"
	"halforder/measure/catalyst"
)

// Budget lets a catalyst ledger rule over a hands-free script: how long a cut
// may last, when the next one may begin, and when to stop.
type Budget struct {
	Ledger *catalyst.Ledger
	Load   catalyst.Load     // during the test; empty: idle
	Means  Means             // spark or injector
	Dead   []engine.Cylinder // known to burn nothing already, fuel on

	// Steps is what was booked here, to be kept with the job.
	Steps []catalyst.Step
}

func (b *Budget) book(at time.Time, c catalyst.Condition) error {
	err := b.Ledger.Set(at, c)
	if err == nil {
		b.Steps = append(b.Steps, catalyst.Step{At: at, Condition: c})
	}
	return err
}

// Switched books that the engine was switched off.
func (b *Budget) Switched(at time.Time) {
	_ = b.book(at, catalyst.Condition{Load: catalyst.Stopped}) // a stopped engine is always possible
}

func (b *Budget) condition(cut []engine.Cylinder) catalyst.Condition {
	c := catalyst.Condition{Load: b.Load, NoSpark: append([]engine.Cylinder(nil), b.Dead...), Known: b.Dead}
	if c.Load == "" {
		c.Load = catalyst.Idle
	}
	if b.Means.Spark() {
		c.NoSpark = append(c.NoSpark, cut...)
	} else {
		c.NoFuel = cut
	}
	return c
}

// Run books that the engine runs without a cut from now on.
func (b *Budget) Run(at time.Time) error { return b.book(at, b.condition(nil)) }

// Before says how long a cut may last from now.
func (b *Budget) Before(at time.Time, cut []engine.Cylinder) (seconds, hard, wait float64, why string) {
	a, err := b.Ledger.Before(at, b.condition(cut))
	if err != nil {
		return 0, 0, catalyst.Never, err.Error()
	}
	return a.Seconds, a.HardSeconds, a.WaitSeconds, a.Why
}

// Begin books a cut. One the books refuse (it names a cylinder the engine has
// not) cannot begin: Before has said never.
func (b *Budget) Begin(at time.Time, cut []engine.Cylinder) { _ = b.book(at, b.condition(cut)) }

// End books its end.
func (b *Budget) End(at time.Time) { _ = b.book(at, b.condition(nil)) }

// Stop reports whether what runs must end now.
func (b *Budget) Stop(at time.Time) (bool, string) {
	s := b.Ledger.During(at)
	return s.Stop, s.Why
}
