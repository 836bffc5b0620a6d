package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// bench is one made-up job in the workshop: a car with a truth that only the
// bench knows, and the bill so far.
type bench struct {
	cat     *fault.Catalogue
	car     belief.Car
	truth   []belief.Fault // what is wrong; severities set
	noMiss  bool           // nothing misfires, yet the car shakes
	r       *rand.Rand
	truth0  []belief.Fault // what was wrong on arrival and later
	oracle  *belief.Belief // knows the parts, and no evidence
	seating fault.Seating
	mended  []belief.Mend
	opened  map[int]bool // banks whose cover is off

	evidence []belief.Evidence
	minutes  float64
	money    float64
	trust    float64 // of the money, what is lost beyond prices when a good part is sold
	needless int
	comeback bool
	handed   bool
	closed   bool

	stated []belief.Share // of the parts, at this step
	start  *belief.Belief // of the reasoner, before any evidence
	depth  int
	talks  bool
	notes  deciles
	trace  func(format string, args ...any)
}

func newBench(truths *truths, r *rand.Rand) *bench {
	b := &bench{cat: truths.cat, car: truths.belief.Car(), r: r, oracle: truths.belief, opened: map[int]bool{}, trace: func(string, ...any) {}}
	b.seating = b.car.Seating
	b.draw(truths)
	return b
}

// truths are what can be wrong with a kind of car, as it is in truth.
type truths struct {
	cat    *fault.Catalogue
	belief *belief.Belief // before any evidence
	worlds []belief.World
}

func newTruths(cat *fault.Catalogue, car belief.Car) (*truths, error) {
	bel, err := belief.New(cat, car, nil)
	if err != nil {
		return nil, err
	}
	worlds, _ := bel.Worlds(bel.Size())
	return &truths{cat, bel, worlds}, nil
}

// draw picks the truth from the priors.
func (b *bench) draw(t *truths) {
	w := t.worlds[pick(b.r, len(t.worlds), func(i int) float64 { return t.worlds[i].P })]
	for _, f := range w.Faults {
		b.truth = append(b.truth, t.belief.FaultAt(f))
	}
	b.noMiss = len(w.Faults) == 0
	b.truth0 = slices.Clone(b.truth)
}

// renewOracle rebuilds the model with the parts that came in.
func (b *bench) renewOracle() error {
	var renewals []belief.Evidence
	for _, e := range b.evidence {
		if e.Renewed != nil {
			renewals = append(renewals, e)
		}
	}
	var err error
	b.oracle, err = belief.New(b.cat, b.car, renewals)
	return err
}

// regime is that in which the customer feels it.
func (b *bench) regime() fault.Regime {
	switch b.car.Complaint {
	case fault.ColdOnly:
		return fault.Cold
	case fault.LoadOnly:
		return fault.Loaded
	}
	return fault.Idle
}

// world is everything that was wrong at some time: what has been repaired
// touches no cylinder any more.
func (b *bench) world() (belief.World, error) {
	w := belief.World{P: 1}
	for _, f := range b.truth0 {
		i, ok := b.oracle.Find(f)
		if !ok {
			return w, fmt.Errorf("the oracle does not know %v", f)
		}
		w.Faults = append(w.Faults, i)
	}
	return w, nil
}

// shows draws whether the trouble is felt during some seconds of running.
func (b *bench) shows(r fault.Regime, seconds float64) bool {
	if b.noMiss {
		return true
	}
	for _, f := range b.truth {
		if f.Severity == fault.SevQuiet {
			return true
		}
		if f.Site.Part != "" && len(b.seating.Where(f.Site.Kind, f.Site.Part)) == 0 {
			continue
		}
		x := b.cat.Behaviour(f.Severity, r)
		rest := x.States[fault.Works]
		if x.Between > 0 {
			rest *= math.Exp(-seconds / x.Between)
		}
		if b.r.Float64() > rest {
			return true
		}
	}
	return false
}

// glance is what is noted of the miss while the engine runs in some way.
type glance struct {
	regime fault.Regime
	miss   belief.Presence
}

func (b *bench) glance(r fault.Regime) glance {
	if b.shows(r, 5) && !b.noMiss {
		return glance{r, belief.Present}
	}
	return glance{r, belief.Absent}
}

// pay charges a step; hard cylinders cost the opening of their bank once.
func (b *bench) pay(easy, hard, cash float64, reach bool, at []engine.Cylinder) {
	m := easy
	for _, c := range at {
		if bank := b.car.Layout.Bank(c); reach && b.car.HardAt(c) && !b.opened[bank] {
			b.opened[bank] = true
			m += hard - easy
		}
	}
	b.minutes += m
	b.money += m/60*b.cat.Setting("rate") + cash
}

// ask does a check and notes what was seen.
func (b *bench) ask(q belief.Question, g glance) error {
	k, err := b.cat.Check(q.Check)
	if err != nil {
		return err
	}
	easy := k.MinutesEasy
	if q.Sweep && k.Scope == fault.PerCylinder {
		easy *= 1 + 0.7*float64(len(q.Cylinders)-1)
	}
	b.pay(easy, k.MinutesHard, k.Cash+k.Risk, k.Reach, q.Cylinders)
	if !q.Sweep {
		return b.askOne(q, k, g)
	}
	for _, c := range q.Cylinders {
		one := q
		one.Sweep, one.Cylinders = false, []engine.Cylinder{c}
		if err := b.askOne(one, k, g); err != nil {
			return err
		}
	}
	return nil
}

func (b *bench) askOne(q belief.Question, k *fault.Check, g glance) error {
	code, err := b.sample(q, g)
	if err != nil {
		return err
	}
	e := belief.Evidence{ID: fmt.Sprintf("%d", len(b.evidence)+1), Seating: b.seating, Mended: slices.Clone(b.mended), Regime: q.Regime, Miss: g.miss}
	if q.Regime != g.regime {
		e.Miss = belief.Unknown
	}
	if k.Swaps != "" {
		e.Swap = &belief.Swap{Kind: k.Swaps, Along: q.Along, A: q.Cylinders[0], B: q.Cylinders[1], Outcome: belief.Follow(code), Before: q.Seconds, After: q.Seconds}
		if b.seating, err = b.seating.Swapped(k.Swaps, q.Cylinders[0], q.Cylinders[1]); err != nil {
			return err
		}
	} else {
		e.Reading = &belief.Reading{Check: q.Check, Cylinders: q.Cylinders, Outcome: code}
	}
	b.trace("  %s %v: %s", q.Check, q.Cylinders, code)
	b.evidence = append(b.evidence, e)
	return nil
}

// sample draws the answer of the truth.
func (b *bench) sample(q belief.Question, g glance) (string, error) {
	w, err := b.world()
	if err != nil {
		return "", err
	}
	o, err := b.oracle.Outlook([]belief.World{w}, belief.Circumstances{Seating: b.seating, Mended: b.mended, Regime: g.regime, Miss: g.miss})
	if err != nil {
		return "", err
	}
	answers, err := o.Predict(q)
	if err != nil {
		return "", err
	}
	u := b.r.Float64()
	for _, a := range answers {
		if u -= a.Chances[0]; u < 0 {
			return a.Code, nil
		}
	}
	return answers[0].Code, nil
}

// proofSeconds and proofMinutes are spent to see whether a repair helped.
const (
	proofMinutes = 8
	proofSeconds = 480
)

// renew does a repair, looks whether the trouble is gone, and closes the job if
// so.
func (b *bench) renew(code string, kind fault.PartKind, at []engine.Cylinder) error {
	r := b.repair(code)
	if r == nil {
		return fmt.Errorf("no repair %q for this car", code)
	}
	b.pay(r.MinutesEasy, r.MinutesHard, r.Parts, r.Reach, at)
	helped := b.end(code, kind, at)
	b.trace("  repair %s %v: helped %v", code, at, helped)
	if !helped {
		b.notes.Sold = b.notes.Sold || b.statedAt(kind, at) >= sure
		b.needless++
		b.trust += r.Needless + b.cat.Setting("lost-trust")
		b.money += r.Needless + b.cat.Setting("lost-trust")
	}
	if kind != "" && len(at) > 0 {
		if err := b.newPart(kind, at[0]); err != nil {
			return err
		}
	} else {
		b.mended = append(b.mended, belief.Mend{Repair: code, Cylinders: at})
	}
	return nil
}

// statedAt is the belief last stated in the part of a kind that sits at a cylinder.
func (b *bench) statedAt(kind fault.PartKind, at []engine.Cylinder) float64 {
	for _, s := range b.stated {
		if kind != "" && len(at) > 0 && s.Name == string(b.seating.At(kind, at[0])) {
			return s.P
		}
	}
	return 0
}

func (b *bench) repair(code string) *fault.Repair {
	for _, r := range b.cat.Repairs() {
		if r.Code == code && r.Fits(b.car.Ignition, b.car.Injection) {
			return r
		}
	}
	return nil
}

// end removes what a repair ends from the truth.
func (b *bench) end(code string, kind fault.PartKind, at []engine.Cylinder) bool {
	helped := b.noMiss && code == "elsewhere"
	if helped {
		b.noMiss = false
	}
	b.truth = slices.DeleteFunc(b.truth, func(f belief.Fault) bool {
		ends := b.ends(f, code, kind, at)
		helped = helped || ends
		return ends
	})
	return helped
}

func (b *bench) ends(f belief.Fault, code string, kind fault.PartKind, at []engine.Cylinder) bool {
	cause, err := b.cat.Cause(f.Cause)
	if err != nil || cause.Unlisted() {
		return false
	}
	if f.Site.Part != "" {
		return f.Site.Kind == kind && len(at) > 0 && b.seating.At(kind, at[0]) == f.Site.Part
	}
	for _, c := range f.Site.Cylinders {
		if len(at) > 0 && !slices.Contains(at, c) {
			return false
		}
	}
	return cause.Repair == code
}

// newPart seats a new part, which may be bad.
func (b *bench) newPart(kind fault.PartKind, at engine.Cylinder) error {
	id := fault.PartID(fmt.Sprintf("new %s %d", kind, len(b.evidence)))
	b.evidence = append(b.evidence, belief.Evidence{ID: "renewal", Seating: b.seating, Mended: slices.Clone(b.mended), Renewed: &belief.Renewed{Kind: kind, Cylinder: at, Part: id}})
	var err error
	if b.seating, err = b.seating.Renewed(kind, at, id); err != nil {
		return err
	}
	if err := b.renewOracle(); err != nil {
		return err
	}
	if b.r.Float64() < b.cat.Setting("new-part-bad") {
		if f, ok := b.badNew(id); ok {
			b.truth, b.truth0 = append(b.truth, f), append(b.truth0, f)
		}
	}
	return nil
}

// badNew draws what is wrong with a new part.
func (b *bench) badNew(id fault.PartID) (belief.Fault, bool) {
	worlds, _ := b.oracle.Worlds(b.oracle.Size())
	var faults []belief.Fault
	var weights []float64
	for _, w := range worlds {
		for _, i := range w.Faults {
			if f := b.oracle.FaultAt(i); f.Site.Part == id {
				faults, weights = append(faults, f), append(weights, w.P)
			}
		}
	}
	if len(faults) == 0 {
		return belief.Fault{}, false
	}
	return faults[pick(b.r, len(faults), func(i int) float64 { return weights[i] })], true
}

// prove looks whether the trouble is gone after a repair. If it seems so the job
// is closed, and what is still wrong comes back.
func (b *bench) prove() error {
	b.pay(proofMinutes, proofMinutes, 0, false, nil)
	e := belief.Evidence{ID: fmt.Sprintf("%d", len(b.evidence)+1), Seating: b.seating, Mended: slices.Clone(b.mended), Regime: b.regime(),
		Watched: &belief.Watched{Seconds: proofSeconds, Came: b.sees(b.shows(b.regime(), proofSeconds))}}
	b.evidence = append(b.evidence, e)
	if e.Watched.Came {
		return nil
	}
	b.closed = true
	if len(b.truth) > 0 || b.noMiss {
		b.comeback = true
		b.money += b.cat.Setting("comeback") + b.own()
	}
	b.trace("  closed, comeback %v", b.comeback)
	return nil
}

// sees is what a person makes of a stretch of watching.
func (b *bench) sees(came bool) bool {
	wrong := b.cat.Setting("watch-false")
	if came {
		wrong = b.cat.Setting("watch-missed")
	}
	return came != (b.r.Float64() < wrong)
}

// handOn gives the job to a further diagnosis, which finds the truth.
func (b *bench) handOn() {
	b.trace("  handed on")
	b.handed, b.closed = true, true
	b.pay(b.cat.Setting("further-diagnosis"), 0, 0, false, nil)
	b.money += b.own()
}

// own is the cost of the repairs that are needed anyway.
func (b *bench) own() float64 {
	total := 0.0
	if b.noMiss {
		if r := b.repair("elsewhere"); r != nil {
			total += (r.MinutesEasy+proofMinutes)/60*b.cat.Setting("rate") + r.Parts
		}
	}
	for _, f := range b.truth {
		cause, err := b.cat.Cause(f.Cause)
		if err != nil || cause.Unlisted() {
			continue
		}
		if r := b.cat.RepairOf(cause, b.car.Ignition, b.car.Injection); r != nil {
			total += (r.MinutesEasy+proofMinutes)/60*b.cat.Setting("rate") + r.Parts
		}
	}
	return total
}
