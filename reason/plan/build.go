package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

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

// addRepairs numbers the faults that are left and the repairs of all worlds.
func (pl *planner) addRepairs() {
	units := map[string]int{}
	refs := map[int]faultRef{}
	for _, w := range pl.worlds {
		var faults []faultRef
		for _, f := range w.Faults {
			if cause, err := pl.cat.Cause(pl.b.FaultAt(f).Cause); err != nil || cause.Unlisted() || len(pl.touched(f)) == 0 {
				continue
			}
			ref, ok := refs[f]
			if !ok {
				ref = faultRef(len(pl.p.fixers))
				refs[f] = ref
				pl.p.fixers = append(pl.p.fixers, pl.fixersOf(f, units))
			}
			faults = append(faults, ref)
		}
		if len(w.Faults) == 0 {
			faults = append(faults, pl.notMisfire(units))
		}
		pl.p.worlds = append(pl.p.worlds, faults)
	}
}

func (pl *planner) notMisfire(units map[string]int) faultRef {
	cause, err := pl.cat.Cause(fault.NotMisfire)
	if err == nil {
		if r := pl.cat.RepairOf(cause, pl.car.Ignition, pl.car.Injection); r != nil {
			u := pl.unitFor(r, belief.Site{Lives: fault.Nowhere, Name: "no cylinder"}, nil, units)
			pl.p.fixers = append(pl.p.fixers, []int{u})
			return faultRef(len(pl.p.fixers) - 1)
		}
	}
	pl.p.fixers = append(pl.p.fixers, nil)
	return faultRef(len(pl.p.fixers) - 1)
}

func (pl *planner) fixersOf(f int, units map[string]int) []int {
	at := pl.b.FaultAt(f)
	cause, err := pl.cat.Cause(at.Cause)
	if err != nil {
		return nil
	}
	r := pl.cat.RepairOf(cause, pl.car.Ignition, pl.car.Injection)
	if r == nil {
		return nil
	}
	return []int{pl.unitFor(r, whole(at.Site), pl.placesOf(at.Site, f), units)}
}

// whole is the part that is renewed: of a rail of coils always all of it.
func whole(s belief.Site) belief.Site {
	if s.Inside != 0 {
		s.Inside, s.Name = 0, string(s.Part)
	}
	return s
}

// placesOf lists the cylinders at which a repair is done now.
func (pl *planner) placesOf(s belief.Site, f int) []engine.Cylinder {
	if s.Inside != 0 {
		return pl.o.Seating.Where(s.Kind, s.Part)
	}
	return pl.touched(f)
}

func (pl *planner) unitFor(r *fault.Repair, site belief.Site, cylinders []engine.Cylinder, units map[string]int) int {
	key := r.Code + "|" + string(site.Lives) + "|" + site.Name
	u, ok := units[key]
	if !ok {
		u = len(pl.units)
		units[key] = u
		pl.units = append(pl.units, unit{r, site, cylinders})
		pl.p.repairs = append(pl.p.repairs, pl.costRepair(r, cylinders))
	}
	return u
}

// proofMinutes is spent after a repair to see whether it helped: common
// practice, no source.
const proofMinutes = 8

func (pl *planner) costRepair(r *fault.Repair, cylinders []engine.Cylinder) repair {
	out := repair{
		cost:     pl.money(r.MinutesEasy+proofMinutes) + r.Parts,
		needless: r.Needless + pl.cat.Setting("lost-trust"),
	}
	if hard := pl.hardOf(r.Reach, cylinders); len(hard) > 0 {
		out.cover, out.opening = pl.covers(hard), pl.money(r.MinutesHard-r.MinutesEasy)
	}
	return out
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

// questions lists the ways to do a check now.
func (pl *planner) questions(k *fault.Check) []belief.Question {
	base := belief.Question{Check: k.Code, Regime: pl.o.Regime}
	if !slices.Contains(k.Regimes, pl.o.Regime) && len(k.Regimes) > 0 && k.Regimes[0] != fault.Any {
		base.Regime = k.Regimes[0]
	}
	switch {
	case k.Swaps != "":
		return pl.swaps(k, base)
	case k.Scope == fault.WholeEngine:
		return []belief.Question{base}
	case k.Scope == fault.PerBank:
		return pl.perBank(base)
	case k.Scope == fault.EachCylinder:
		base.Sweep, base.Cylinders = true, pl.car.Layout.Cylinders()
		return []belief.Question{base}
	}
	return pl.perCylinder(k, base)
}

func (pl *planner) perBank(base belief.Question) []belief.Question {
	var out []belief.Question
	for _, bank := range pl.car.Layout.Banks() {
		q := base
		q.Cylinders = bank
		out = append(out, q)
	}
	return out
}

// suspectsLimit is how many cylinders a check is tried at, suspectFloor the
// least chance of a fault that makes a cylinder worth it.
const (
	suspectsLimit = 4
	suspectFloor  = 0.04
)

func (pl *planner) perCylinder(k *fault.Check, base belief.Question) []belief.Question {
	var out []belief.Question
	for _, c := range pl.suspects() {
		q := base
		q.Cylinders = []engine.Cylinder{c}
		out = append(out, q)
	}
	if k.Reach {
		return out
	}
	sweep := base
	sweep.Sweep = true
	for _, c := range pl.car.Layout.Cylinders() {
		one := base
		one.Cylinders = []engine.Cylinder{c}
		if !pl.outlook.Repeats(one) {
			sweep.Cylinders = append(sweep.Cylinders, c)
		}
	}
	if len(sweep.Cylinders) > 1 {
		out = append(out, sweep)
	}
	return out
}

// suspects lists the cylinders a fault may touch, likeliest first.
func (pl *planner) suspects() []engine.Cylinder {
	all := pl.car.Layout.Cylinders()
	slices.SortStableFunc(all, func(a, b engine.Cylinder) int { return cmp.Compare(pl.mass[b-1], pl.mass[a-1]) })
	n := 1
	for n < min(suspectsLimit, len(all)) && pl.mass[all[n]-1] > suspectFloor {
		n++
	}
	return all[:n]
}

// swaps proposes to move the part of the likeliest cylinders to a partner. It
// takes a miss to follow, so none is proposed while it is absent.
func (pl *planner) swaps(k *fault.Check, base belief.Question) []belief.Question {
	if pl.o.Miss == belief.Absent {
		return nil
	}
	var out []belief.Question
	for _, a := range pl.suspects()[:min(2, len(pl.suspects()))] {
		b, ok := pl.partner(k, a)
		if !ok {
			continue
		}
		q := base
		q.Cylinders, q.Seconds = []engine.Cylinder{a, b}, watchSeconds
		if k.Swaps == fault.Coil {
			q.Along = pl.o.Along
		}
		out = append(out, q)
	}
	return out
}

// watchSeconds is how long a miss is watched before and after a swap unless the
// job says otherwise: common practice.
const watchSeconds = 60

// partner is the cylinder to swap with: strong, easy to reach, neither
// companion nor neighbour in the block or the firing order.
func (pl *planner) partner(k *fault.Check, a engine.Cylinder) (engine.Cylinder, bool) {
	best, bestScore := engine.Cylinder(0), 0.0
	for _, c := range pl.car.Layout.Cylinders() {
		if _, err := pl.o.Seating.Swapped(k.Swaps, a, c); err != nil {
			continue
		}
		if score := pl.partnerScore(a, c); best == 0 || score < bestScore {
			best, bestScore = c, score
		}
	}
	return best, best != 0
}

func (pl *planner) partnerScore(a, c engine.Cylinder) float64 {
	l := pl.car.Layout
	score := 10 * pl.mass[c-1]
	if pl.car.HardAt(c) && !slices.Contains(pl.o.Opened, c) && !(pl.car.HardAt(a) && l.Bank(a) == l.Bank(c)) {
		score += 4
	}
	if mate, ok := l.Companion(a); ok && mate == c {
		score++
	}
	before, after := l.FiringNeighbours(a)
	if c == before || c == after {
		score++
	}
	if slices.Contains(l.BlockNeighbours(a), c) {
		score++
	}
	return score
}

// covers reports whether have holds every wanted cylinder.
func covers(have, want []engine.Cylinder) bool {
	for _, c := range want {
		if !slices.Contains(have, c) {
			return false
		}
	}
	return true
}

// precededBy reports whether a check that makes sense only after another
// reading ("after compression low") has it.
func (pl *planner) precededBy(k *fault.Check, cylinders []engine.Cylinder) bool {
	for _, need := range k.Needs {
		words := strings.Fields(need)
		if len(words) == 3 && words[0] == "after" && !pl.hasReading(words[1], words[2], cylinders) {
			return false
		}
	}
	return true
}

func (pl *planner) hasReading(check, outcome string, cylinders []engine.Cylinder) bool {
	for _, e := range pl.b.Evidence() {
		if r := e.Reading; r != nil && r.Check == check && r.Outcome == outcome && covers(r.Cylinders, cylinders) {
			return true
		}
	}
	return false
}
