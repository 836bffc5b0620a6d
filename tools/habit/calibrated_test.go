package main

import (
	"math/rand/v2"
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Stated beliefs are right as often as they say. Jobs drawn from the catalogue
// are looked at without a plan: any checks in any order and regime, swaps, and
// now and then a part renewed and watched. The belief at the end of each must
// agree with the truth, tenth by tenth, within two points and three standard
// errors. Seed 11.
func TestCalibrated(t *testing.T) {
	cat, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	kinds, err := classes()
	if err != nil {
		t.Fatal(err)
	}
	car := kinds[1].car
	car.Complaint = fault.WeakOne
	truths, err := newTruths(cat, car)
	if err != nil {
		t.Fatal(err)
	}
	var lines []line
	for job := range 120 {
		b := newBench(truths, rand.New(rand.NewPCG(11, uint64(job))))
		b.start = truths.belief
		if err := b.wander(8); err != nil {
			t.Fatal(err)
		}
		bel, err := b.believe(b.start)
		if err != nil {
			t.Fatal(err)
		}
		b.note(bel)
		lines = append(lines, line{Job: job, Outcomes: []outcome{{Notes: b.notes}}})
	}
	for tenth := range 10 {
		d := reliabilityOf(lines, tenth)
		if d.n == 0 {
			continue
		}
		t.Logf("%d to %d %%: %d cases, stated %.3f, right %.3f, off %+.3f ± %.3f", 10*tenth, 10*tenth+10, d.n, d.stated, d.right, d.off, d.half)
		if bound := 0.02 + 3*d.half/1.96; d.n >= 20 && max(d.off, -d.off) > bound {
			t.Errorf("off by %.3f, at most %.3f wanted", d.off, bound)
		}
	}
}

// wander takes steps at random until the job is closed.
func (b *bench) wander(steps int) error {
	bel := b.start
	for range steps {
		var err error
		if b.r.IntN(4) > 0 {
			err = b.lookSomewhere()
		} else if bel, err = b.believe(bel); err == nil {
			err = b.renewSuspect(bel.Suspects()[b.r.IntN(2)].Fault)
		}
		if err != nil || b.closed {
			return err
		}
	}
	return nil
}

// lookSomewhere does a check that was not done yet, of all cylinders where it
// looks at one.
func (b *bench) lookSomewhere() error {
	checks := b.cat.Checks()
	k := checks[b.r.IntN(len(checks))]
	if !k.Fits(b.car.Ignition, b.car.Injection) || b.hasDone(k.Code) {
		return nil
	}
	q := belief.Question{Check: k.Code, Regime: fault.Idle}
	if len(k.Regimes) > 0 && b.r.IntN(3) == 0 {
		q.Regime = k.Regimes[b.r.IntN(len(k.Regimes))]
	}
	switch {
	case k.Swaps != "":
		n := engine.Cylinder(b.car.Layout.N())
		a := 1 + engine.Cylinder(b.r.IntN(int(n)))
		q.Cylinders, q.Seconds, q.Regime = []engine.Cylinder{a, a%n + 1}, 60, fault.Idle
	case k.Scope == fault.EachCylinder, k.Scope == fault.PerCylinder:
		q.Sweep, q.Cylinders = true, b.car.Layout.Cylinders()
	case k.Scope == fault.PerBank:
		q.Cylinders = b.car.Layout.Banks()[0]
	}
	return b.ask(q, b.glance(fault.Idle))
}

func (b *bench) hasDone(check string) bool {
	for _, e := range b.evidence {
		if e.Reading != nil && e.Reading.Check == check {
			return true
		}
	}
	return false
}

// renewSuspect does the repair of a fault, where there is one, and watches.
func (b *bench) renewSuspect(f belief.Fault) error {
	cause, err := b.cat.Cause(f.Cause)
	if err != nil {
		return err
	}
	at := f.Site.Cylinders
	if f.Site.Part != "" {
		at = b.seating.Where(f.Site.Kind, f.Site.Part)
	}
	r := b.cat.RepairOf(cause, b.car.Ignition, b.car.Injection)
	if r == nil || cause.Unlisted() || len(at) == 0 {
		return nil
	}
	if err := b.renew(r.Code, f.Site.Kind, at); err != nil {
		return err
	}
	return b.prove()
}
