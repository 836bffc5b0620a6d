package main

import (
	"math"
	"math/rand/v2"
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// A short run of what the command does at length: the plan must beat the habits
// and accuse hardly anybody wrongly. Seed 7.
func TestPlanBeatsHabits(t *testing.T) {
	records, err := run(setup{jobs: 3, seed: 7, depth: 1, policies: 3})
	if err != nil {
		t.Fatal(err)
	}
	extra := func(o outcome) float64 { return o.extra }
	base, _ := records[0].mean(extra, "")
	for _, r := range records[1:3] {
		if m, _ := r.mean(extra, ""); base > 0.8*m {
			t.Errorf("above the needed repairs the plan costs %.0f, %q %.0f: at most four fifths wanted even on so few jobs", base, r.name, m)
		}
	}
	if records[0].accused > 1 {
		t.Errorf("the plan accused a good part in %d of 3 jobs", records[0].accused)
	}
}

// Stated beliefs are right as often as they say, on jobs drawn from the
// catalogue itself and looked at without a plan. Each tenth must agree within
// three standard errors and two points. Seed 11.
func TestCalibrated(t *testing.T) {
	cat, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	kinds, err := classes()
	if err != nil {
		t.Fatal(err)
	}
	k := kinds[1]
	k.car.Complaint = fault.WeakOne
	truths, err := belief.New(cat, k.car, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := &record{catalogue: cat}
	for job := range 60 {
		if err := lookAround(r, cat, k.car, truths, job); err != nil {
			t.Fatal(err)
		}
	}
	for i, d := range r.deciles {
		if d.n < 30 {
			continue
		}
		stated, right := d.sum/float64(d.n), float64(d.right)/float64(d.n)
		if bound := 0.02 + 3*math.Sqrt(stated*(1-stated)/float64(d.n)); math.Abs(stated-right) > bound {
			t.Errorf("%d to %d %%: stated %.3f, right %.3f of %d", 10*i, 10*i+10, stated, right, d.n)
		}
	}
}

// lookAround cuts every cylinder, reads trims and gas, swaps a coil, and notes
// the belief at the end.
func lookAround(r *record, cat *fault.Catalogue, car belief.Car, truths *belief.Belief, job int) error {
	b, err := newBench(cat, car, rand.New(rand.NewPCG(11, uint64(job))), truths)
	if err != nil {
		return err
	}
	b.truth0 = append(b.truth0, b.truth...)
	c, err := b.findCylinder()
	if err != nil {
		return err
	}
	c = max(c, 1)
	for _, q := range []belief.Question{
		{Check: "trims", Regime: fault.Idle}, {Check: "gas", Regime: fault.Idle},
		{Check: "swap-coil", Cylinders: []engine.Cylinder{c, c%4 + 1}, Seconds: 60, Regime: fault.Idle},
		{Check: "plug-look", Cylinders: []engine.Cylinder{c}, Regime: fault.Any},
	} {
		if err := b.ask(q, b.feelsMiss()); err != nil {
			return err
		}
	}
	bel, err := belief.New(cat, car, b.evidence)
	if err != nil {
		return err
	}
	r.note(b, bel)
	return nil
}
