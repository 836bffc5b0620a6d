package plan

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Planning looks at the likeliest hypotheses: as many as hold worldMass, or
// worldLimit of them. The rest are pairs of which none matters.
const (
	worldLimit = 500
	worldMass  = 0.95
)

// planner joins a belief to an abstract problem.
type planner struct {
	b       *belief.Belief
	cat     *fault.Catalogue
	car     belief.Car
	o       Options
	worlds  []belief.World
	p       problem
	weights []float64
	units   []unit
	asked   []asked
	outlook *belief.Outlook
	mass    []float64 // by cylinder − 1: chance that a fault touches it
}

// unit is a repair at a site.
type unit struct {
	repair    *fault.Repair
	site      belief.Site
	cylinders []engine.Cylinder // where it is done now
}

// asked is a check at its cylinders.
type asked struct {
	check   *fault.Check
	q       belief.Question
	answers []belief.Answer
	minutes float64
	reach   []engine.Cylinder // hard cylinders whose cover comes off
}

func newPlanner(b *belief.Belief, o Options) (*planner, error) {
	pl := &planner{b: b, cat: b.Catalogue(), car: b.Car(), o: o.withDefaults(b)}
	pl.worlds, _ = b.Likeliest(worldLimit, worldMass)
	var err error
	at := belief.Circumstances{Seating: pl.o.Seating, Mended: pl.o.Mended, Regime: pl.o.Regime, Miss: pl.o.Miss}
	if pl.outlook, err = b.Outlook(pl.worlds, at); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	pl.weights = make([]float64, len(pl.worlds))
	pl.mass = make([]float64, pl.car.Layout.N())
	for i, w := range pl.worlds {
		pl.weights[i] = w.P
		pl.addMass(w)
	}
	pl.leaveOutEnded()
	pl.addRepairs()
	if err := pl.addChecks(); err != nil {
		return nil, err
	}
	pl.withholdUnfound()
	pl.p.handOn = pl.money(pl.cat.Setting("further-diagnosis"))
	pl.p.bit = pl.money(pl.cat.Setting("bit"))
	pl.p.index()
	return pl, nil
}

func (pl *planner) touched(f int) []engine.Cylinder { return pl.outlook.Touched(f) }

func (pl *planner) addMass(w belief.World) {
	seen := map[engine.Cylinder]bool{}
	for _, f := range w.Faults {
		for _, c := range pl.touched(f) {
			if !seen[c] {
				seen[c] = true
				pl.mass[c-1] += w.P
			}
		}
	}
}

// leaveOutEnded takes the weight of worlds of which nothing is left in the car:
// who asks what to do has the trouble still. Where only they are likely all keep
// their weight.
func (pl *planner) leaveOutEnded() {
	left := 0.0
	for i, w := range pl.worlds {
		if !pl.ended(w) {
			left += pl.weights[i]
		}
	}
	if left == 0 {
		return
	}
	for i, w := range pl.worlds {
		if pl.weights[i] /= left; pl.ended(w) {
			pl.weights[i] = 0
		}
	}
}

// ended reports whether all that is wrong in a world has been mended or lies on
// the bench.
func (pl *planner) ended(w belief.World) bool {
	if len(w.Faults) == 0 {
		cause, err := pl.cat.Cause(fault.NotMisfire)
		return err == nil && slices.ContainsFunc(pl.o.Mended, func(m belief.Mend) bool { return m.Repair == cause.Repair })
	}
	return !slices.ContainsFunc(w.Faults, func(f int) bool { return len(pl.touched(f)) > 0 })
}

func (pl *planner) money(minutes float64) float64 { return minutes / 60 * pl.o.Rate }

// hardOf lists the hard cylinders among those to be reached.
func (pl *planner) hardOf(reach bool, cylinders []engine.Cylinder) []engine.Cylinder {
	var out []engine.Cylinder
	for _, c := range cylinders {
		if reach && pl.car.HardAt(c) {
			out = append(out, c)
		}
	}
	return out
}

// covers are the covers over hard cylinders: one for each bank, since what lies
// over a bank comes off as a whole.
func (pl *planner) covers(hard []engine.Cylinder) uint32 {
	var out uint32
	for _, c := range hard {
		out |= 1 << pl.car.Layout.Bank(c)
	}
	return out
}

func (pl *planner) start() state { return state{opened: pl.covers(pl.o.Opened)} }

func (pl *planner) addChecks() error {
	for _, k := range pl.cat.Checks() {
		if !k.Fits(pl.car.Ignition, pl.car.Injection) || pl.forbidden(k.Code, k.Cautions, k.Stops) || pl.o.Hybrid && slices.Contains(k.Needs, notHybrid) {
			continue
		}
		for _, q := range pl.questions(k) {
			if pl.outlook.Repeats(q) || !pl.precededBy(k, q.Cylinders) {
				continue
			}
			if err := pl.addCheck(k, q); err != nil {
				return err
			}
		}
	}
	return nil
}

// notHybrid is the need of a check that says nothing on a hybrid, whose motor
// cranks and steadies the engine.
const notHybrid = "not a hybrid"

func (pl *planner) forbidden(code string, cautions ...[]fault.Caution) bool {
	if slices.Contains(pl.o.Forbids, code) {
		return true
	}
	for _, set := range cautions {
		for _, c := range set {
			if slices.Contains(pl.o.Forbids, c.Code) {
				return true
			}
		}
	}
	return false
}

func (pl *planner) addCheck(k *fault.Check, q belief.Question) error {
	answers, err := pl.outlook.Predict(q)
	if err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	a := asked{check: k, q: q, answers: answers, minutes: pl.minutes(k, &q), reach: pl.hardOf(k.Reach, q.Cylinders)}
	c := check{cost: pl.money(a.minutes) + k.Cash + k.Risk}
	if len(a.reach) > 0 {
		c.cover, c.opening = pl.covers(a.reach), pl.money(k.MinutesHard-k.MinutesEasy)
	}
	for _, x := range answers {
		c.answers = append(c.answers, x.Chances)
	}
	pl.asked, pl.p.checks = append(pl.asked, a), append(pl.p.checks, c)
	return nil
}

// minutes with every cover off. A sweep of a check that is done one cylinder at
// a time costs the full time once and less for each further cylinder.
func (pl *planner) minutes(k *fault.Check, q *belief.Question) float64 {
	if q.Sweep && k.Scope == fault.PerCylinder {
		return k.MinutesEasy * (1 + sweepShare*float64(len(q.Cylinders)-1))
	}
	return k.MinutesEasy
}

// sweepShare is the time of each further cylinder against the first: from the
// trade's times for one and for all, 2 against 5 to 15 minutes for cut-outs.
const sweepShare = 0.7
