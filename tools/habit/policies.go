package main

import (
	"slices"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// policy is a way to work a job to its end.
type policy struct {
	name string
	run  func(*bench) error
}

// policies are the plan and the habits it is held against.
var policies = []policy{
	{"plan", func(b *bench) error { return planned(b, 1, b.depth, first) }},
	{"swap first", swapFirst},
	{"coil and plug at once", coilAndPlug},
	{"chance per cost", chancePerCost},
	{"information alone", func(b *bench) error { return planned(b, 400, 1, mostBits) }},
}

// stepLimit ends a job that goes nowhere.
const stepLimit = 25

// first takes the best suggestion.
func first(_ *belief.Belief, s []plan.Suggestion) plan.Suggestion { return s[0] }

// sure is the belief at which the seeker of information repairs.
const sure = 0.9

// leastBits is what a check must tell to be worth doing to that seeker.
const leastBits = 0.05

// mostBits takes the check that tells most, until one suspect is sure or no
// check tells anything.
func mostBits(b *belief.Belief, s []plan.Suggestion) plan.Suggestion {
	best, repair := -1, -1
	for i := range s {
		if s[i].Check == "" {
			if repair < 0 {
				repair = i
			}
		} else if best < 0 || s[i].Bits > s[best].Bits {
			best = i
		}
	}
	if repair >= 0 && (b.Suspects()[0].P >= sure || best < 0 || s[best].Bits < leastBits) {
		return s[repair]
	}
	if best < 0 {
		return s[0]
	}
	return s[best]
}

// planned follows suggestions, chosen by pick, to the end.
func planned(b *bench, limit, depth int, pick func(*belief.Belief, []plan.Suggestion) plan.Suggestion) error {
	bel := b.start
	for range stepLimit {
		var err error
		if bel, err = b.believe(bel); err != nil {
			return err
		}
		b.note(bel)
		g := b.glance(b.regime())
		if b.talks {
			limit = max(limit, 8)
		}
		s, err := plan.Next(bel, plan.Options{Seating: b.seating, Mended: b.mended, Regime: g.regime, Miss: g.miss, Opened: b.hardOpened(), Limit: limit, Depth: depth})
		if err != nil {
			return err
		}
		if b.talks {
			b.sayWhy(bel, s)
		}
		if done, err := b.step(pick(bel, s), g); err != nil || done {
			return err
		}
	}
	b.handOn()
	return nil
}

// sayWhy prints what is believed and proposed before a repair or handing over.
func (b *bench) sayWhy(bel *belief.Belief, s []plan.Suggestion) {
	if s[0].Repair == "" {
		return
	}
	for _, x := range bel.Suspects()[:6] {
		b.trace("    %4.1f %% %s, %s", 100*x.P, x.Title, x.Site.Name)
	}
	for _, x := range s {
		b.trace("    %s%s %v: %.0f", x.Check, x.Repair, x.Cylinders, x.Expected)
	}
}

// believe brings the belief up to the evidence.
func (b *bench) believe(bel *belief.Belief) (*belief.Belief, error) {
	var err error
	for _, e := range b.evidence[len(bel.Evidence()):] {
		if bel, err = bel.With(e); err != nil {
			return nil, err
		}
	}
	return bel, nil
}

func (b *bench) hardOpened() []engine.Cylinder {
	var out []engine.Cylinder
	for _, c := range b.car.Layout.Cylinders() {
		if b.opened[b.car.Layout.Bank(c)] {
			out = append(out, c)
		}
	}
	return out
}

// step does a suggestion.
func (b *bench) step(s plan.Suggestion, g glance) (done bool, err error) {
	switch {
	case s.Repair == plan.HandOver:
		b.handOn()
	case s.Repair != "":
		if err := b.renew(s.Repair, s.Kind, s.Cylinders); err != nil {
			return false, err
		}
		err = b.prove()
	default:
		q := belief.Question{Check: s.Check, Cylinders: s.Cylinders, Sweep: s.Sweep, Regime: s.Regime}
		if s.Kind != "" {
			q.Seconds = 60
		}
		err = b.ask(q, g)
	}
	return b.closed, err
}

// findCylinder cuts every cylinder and returns the one that changed least, 0 if
// all were alike.
func (b *bench) findCylinder() (engine.Cylinder, error) {
	from := len(b.evidence)
	q := belief.Question{Check: "cut", Cylinders: b.car.Layout.Cylinders(), Sweep: true, Regime: fault.Idle}
	if err := b.ask(q, b.glance(fault.Idle)); err != nil {
		return 0, err
	}
	for _, want := range []string{"none", "small"} {
		for _, e := range b.evidence[from:] {
			if e.Reading.Outcome == want {
				return e.Reading.Cylinders[0], nil
			}
		}
	}
	return 0, nil
}

// swapFirst is the habit: find the cylinder, swap the coil, sell what followed;
// else the plug, the injector, and then give up.
func swapFirst(b *bench) error {
	c, err := b.findCylinder()
	if err != nil {
		return err
	}
	if c == 0 {
		return b.partsInTurn(0, "plug-set")
	}
	k, err := b.cat.SwapCheck(fault.Coil, b.car.Ignition, b.car.Injection)
	if err != nil {
		return b.partsInTurn(c, "coil", "plug", "injector")
	}
	other := b.otherCoil(c)
	if other == 0 {
		return b.partsInTurn(c, "coil", "plug", "injector")
	}
	q := belief.Question{Check: k.Code, Cylinders: []engine.Cylinder{c, other}, Seconds: 60, Regime: fault.Idle}
	if err := b.ask(q, b.glance(fault.Idle)); err != nil {
		return err
	}
	switch b.evidence[len(b.evidence)-1].Swap.Outcome {
	case belief.Stays:
		return b.partsInTurn(c, "plug", "injector")
	case belief.Vanishes: // "the swap cured it": the coil is sold to be safe
		return b.partsInTurn(other, "coil")
	}
	return b.partsInTurn(other, "coil", "plug", "injector")
}

func (b *bench) otherCoil(c engine.Cylinder) engine.Cylinder {
	for _, d := range b.car.Layout.Cylinders() {
		if _, err := b.seating.Swapped(fault.Coil, c, d); err == nil && !b.car.HardAt(d) {
			return d
		}
	}
	for _, d := range b.car.Layout.Cylinders() {
		if _, err := b.seating.Swapped(fault.Coil, c, d); err == nil {
			return d
		}
	}
	return 0
}

// coilAndPlug is the other habit: find the cylinder and renew both at once.
func coilAndPlug(b *bench) error {
	c, err := b.findCylinder()
	if err != nil {
		return err
	}
	if c == 0 {
		return b.partsInTurn(0, "plug-set")
	}
	b.minutes -= alongside // the coil has to come off for the plug anyway
	b.money -= alongside / 60 * b.cat.Setting("rate")
	if err := b.renew("coil", fault.Coil, []engine.Cylinder{c}); err != nil {
		return err
	}
	return b.partsInTurn(c, "plug", "injector")
}

// alongside is the time saved, in minutes, by renewing coil and plug in one go.
const alongside = 20

// partsInTurn renews one after the other until the trouble seems gone, then
// gives up.
func (b *bench) partsInTurn(c engine.Cylinder, codes ...string) error {
	kinds := map[string]fault.PartKind{"coil": fault.Coil, "plug": fault.Plug, "injector": fault.Injector}
	for _, code := range codes {
		var at []engine.Cylinder
		if c != 0 {
			at = []engine.Cylinder{c}
		}
		if err := b.renewSet(code, kinds[code], at); err != nil {
			return err
		}
		if err := b.prove(); err != nil || b.closed {
			return err
		}
	}
	b.handOn()
	return nil
}

// renewSet renews one part, or every plug.
func (b *bench) renewSet(code string, kind fault.PartKind, at []engine.Cylinder) error {
	if code != "plug-set" {
		return b.renew(code, kind, at)
	}
	before := len(b.truth)
	b.truth = slices.DeleteFunc(b.truth, func(f belief.Fault) bool { return f.Site.Kind == fault.Plug })
	helped := len(b.truth) < before
	if err := b.renew(code, "", nil); err != nil {
		return err
	}
	if helped {
		b.needless--
	}
	return nil
}

// chancePerCost finds the cylinder and then renews in the order of chance per
// cost, without another check.
func chancePerCost(b *bench) error {
	if _, err := b.findCylinder(); err != nil {
		return err
	}
	var forbidden []string
	for _, k := range b.cat.Checks() {
		forbidden = append(forbidden, k.Code)
	}
	bel := b.start
	for range stepLimit {
		var err error
		if bel, err = b.believe(bel); err != nil {
			return err
		}
		s, err := plan.Next(bel, plan.Options{Seating: b.seating, Mended: b.mended, Miss: b.glance(fault.Idle).miss, Opened: b.hardOpened(), Forbids: forbidden, Limit: 1, Depth: 1})
		if err != nil {
			return err
		}
		if done, err := b.step(s[0], glance{fault.Idle, belief.Unknown}); err != nil || done {
			return err
		}
	}
	b.handOn()
	return nil
}
