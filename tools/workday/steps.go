package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/practice/exercise"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
	"halforder/signal"
)

// ask orders something on the practice car and gives the answer.
func (t *technician) ask(line string) (exercise.Entry, error) {
	entry, err := t.x.Order(line)
	t.say("> %s: %s", line, entry.Answer)
	return entry, err
}

// check does a check of the plan and writes down what it gave.
func (t *technician) check(s plan.Suggestion) error {
	o := errands[s.Check]
	switch {
	case s.Check == "codes":
		return t.codes()
	case s.Check == "counters":
		return t.counters(s.Regime)
	case s.Check == "pinch":
		return t.pinch()
	case s.Check == "fuel-pressure":
		return t.fuel(s)
	case s.Check == "cut":
		return t.cut(s)
	case s.Check == "record" && s.Regime != fault.Loaded:
		return t.record()
	case s.Check == "record":
		t.skip = append(t.skip, s.Check) // nothing records a practice car on the road
		return nil
	case s.Kind != "":
		return t.swap(o.menu, s)
	case !o.single:
		return t.read(s, o, 0)
	}
	for _, c := range s.Cylinders {
		if err := t.read(s, o, c); err != nil {
			return err
		}
	}
	return nil
}

func (t *technician) read(s plan.Suggestion, o errand, c engine.Cylinder) error {
	line := o.menu
	if o.single {
		line += fmt.Sprintf(" %d", c)
	}
	return t.askFor(s, line, func(answer string) []string { return o.fields(answer, t.x.Layout, c) })
}

// askFor orders something and enters the fields of its answer; where the engine does not
// run the check is not asked for again.
func (t *technician) askFor(s plan.Suggestion, line string, fields func(answer string) []string) error {
	entry, err := t.ask(line)
	if err != nil {
		return err
	}
	if strings.Contains(entry.Answer, "does not keep running") || strings.Contains(entry.Answer, "stalls") {
		t.skip = append(t.skip, s.Check)
		return nil
	}
	return t.enter(s.Check, s.Regime, fields(entry.Answer)...)
}

func (t *technician) enter(check string, regime fault.Regime, fields ...string) error {
	results, err := t.card.ReadResults(t.cat, check, fields)
	if err != nil {
		return err
	}
	t.say("  entered %s %s", check, strings.Join(fields, " "))
	return t.write(&job.Entered{Check: check, Results: results, Regime: regime, Miss: t.felt[regime]})
}

// codes are read, and the counters beside them.
func (t *technician) codes() error {
	entry, err := t.ask("codes")
	if err != nil {
		return err
	}
	stored := code.FindAllString(entry.Answer, -1)
	if err := t.write(&job.Coded{Codes: stored}); err != nil {
		return err
	}
	if len(stored) > 0 && !slices.ContainsFunc(stored, ofCylinder.MatchString) {
		if err := t.enter("codes", fault.Any, t.all("none")); err != nil {
			return err
		}
	}
	return t.enterCounts(entry.Answer, fault.Idle, idleCycles)
}

func (t *technician) all(outcome string) string {
	var at []string
	for _, c := range t.x.Layout.Cylinders() {
		at = append(at, fmt.Sprint(c))
	}
	return strings.Join(at, ",") + "=" + outcome
}

// How many engine cycles and seconds an order of codes idles, and one of the road
// pulls.
const (
	idleCycles, idleS = 170, 25.0
	roadCycles, roadS = 100, 4.0
)

func (t *technician) counters(regime fault.Regime) error {
	line, cycles := "codes", idleCycles
	if regime == fault.Loaded {
		line, cycles = "road", roadCycles
	}
	entry, err := t.ask(line)
	if err != nil {
		return err
	}
	return t.enterCounts(entry.Answer, regime, cycles)
}

func (t *technician) enterCounts(answer string, regime fault.Regime, cycles int) error {
	_, shares, found := strings.Cut(answer, "by cylinder: ")
	if !found {
		t.skip = append(t.skip, "counters")
		return nil
	}
	t.feel(regime, slices.Max(values(shares)))
	var fields []string
	for i, share := range values(shares) {
		fields = append(fields, fmt.Sprintf("%d=%.0f", i+1, math.Round(share/100*float64(cycles))))
	}
	return t.enter("counters", regime, fields...)
}

// feel notes what hand and ear say while the engine runs so, from the share of firings
// of the worst cylinder that are missing, in per cent: of what comes and goes nobody
// knows whether it was there during a short reading. Judgement.
func (t *technician) feel(regime fault.Regime, worst float64) {
	switch {
	case worst >= 80:
		t.felt[regime] = belief.Present
	case worst < 1:
		t.felt[regime] = belief.Absent
	default:
		t.felt[regime] = belief.Unknown
	}
}

// cut unplugs one cylinder after the other; only those asked for are written down, since
// an engine that misses now and then upsets single ones.
func (t *technician) cut(s plan.Suggestion) error {
	return t.askFor(s, "cut-out", func(answer string) []string { return cutFields(answer, s.Cylinders) })
}

// fuel takes the pressure with the pump running and, where that is right, what the pump
// delivers: too little falls short under load.
func (t *technician) fuel(s plan.Suggestion) error {
	pressure, err := t.ask("fuel-pressure")
	if err != nil {
		return err
	}
	says := pressureFields(pressure.Answer)
	if results, err := t.card.ReadResults(t.cat, s.Check, says); err == nil && results[0].Outcome == "ok" {
		volume, err := t.ask("fuel-volume")
		if err != nil {
			return err
		}
		if numbers(volume.Answer, "delivers")[0] < dueFlow {
			says = []string{"sags"}
		}
	}
	return t.enter(s.Check, s.Regime, says...)
}

// dueFlow is what a pump delivers at the least, in g/s: three quarters of a litre in half
// a minute. Common practice, no source.
const dueFlow = 20

func (t *technician) pinch() error {
	says := "same"
	for _, valve := range []string{"egr-off", "purge-off"} {
		entry, err := t.ask(valve)
		if err != nil {
			return err
		}
		if strings.Contains(entry.Answer, "lets gas through") {
			says = "smooths"
		}
	}
	return t.enter("pinch", fault.Idle, says)
}

// recordS is how long sound is recorded, in seconds.
const recordS = 30

// record listens to the engine with the sensors of a phone.
func (t *technician) record() error {
	rec, _, err := t.x.Record(recordS)
	if err != nil {
		t.skip = append(t.skip, "record") // it does not keep running
		return nil
	}
	f, err := order.Analyse(signal.FromMemory(rec.Sound.X), rec.Sound.Hz, order.Config{Layout: t.x.Layout})
	if err != nil {
		t.say("> record: %v", err)
		t.skip = append(t.skip, "record")
		return nil
	}
	t.say("> record: %s", f.Sentence)
	sha := fmt.Sprintf("%064d", len(t.events))
	return t.write(&job.Recorded{SHA256: sha, Sensor: "sound", Name: "idle", RateHz: rec.Sound.Hz, Seconds: recordS, Regime: fault.Idle},
		&job.Found{SHA256: sha, Finding: f})
}

var fates = map[string]belief.Follow{"it followed the part": belief.Follows, "it stayed": belief.Stays, "it vanished": belief.Vanishes, "both miss": belief.AtBoth}

// swap changes two parts, watches and changes them back.
func (t *technician) swap(menu string, s plan.Suggestion) error {
	c, mate := s.Cylinders[0], s.Cylinders[1]
	entry, err := t.ask(fmt.Sprintf("%s %d %d", menu, c, mate))
	if err != nil {
		return err
	}
	there := &job.Swapped{Part: s.Kind, A: c, B: mate}
	for words, outcome := range fates {
		if strings.Contains(entry.Answer, words) {
			return t.write(there, &job.SwapWatched{Swap: t.card.Last + 1, Outcome: outcome, Before: belief.Present, BeforeS: 8, AfterS: 8, Regime: s.Regime},
				&job.Swapped{Part: s.Kind, A: c, B: mate})
		}
	}
	t.skip = append(t.skip, s.Check) // no miss to follow
	return nil
}

// mend renews or mends on the practice car and writes it on the card.
func (t *technician) mend(s plan.Suggestion) error {
	repair, err := t.cat.Repair(s.Repair)
	if err != nil {
		return err
	}
	if s.Repair == "plug-set" {
		return t.renewAll(s)
	}
	if repair.Renews.Part() {
		c, part := s.Cylinders[0], fault.PartKind(repair.Renews)
		action := "renew " + string(part)
		if _, err := t.ask(fmt.Sprintf("%s %d", action, c)); err != nil {
			return err
		}
		t.done = append(t.done, []truth{{action: action, at: c}})
		return t.write(&job.Repaired{Part: part, Cylinder: c, NewPart: t.card.NewPartID(part)})
	}
	if err := t.mendPlaces(s); err != nil {
		return err
	}
	return t.write(&job.Repaired{Repair: s.Repair, Cylinders: s.Cylinders, Words: s.Title})
}

// mendPlaces does the practice actions of a repair; of several, such as both valves
// of a head, the dearest is paid.
func (t *technician) mendPlaces(s plan.Suggestion) error {
	minutes, money := t.x.Minutes, t.x.Money
	var most exercise.Entry
	var mended []truth
	for _, kind := range mends[s.Repair] {
		at := engine.Cylinder(0)
		if len(s.Cylinders) > 0 && perCylinder(kind) {
			at = s.Cylinders[0]
		}
		entry, err := t.ask(fmt.Sprintf("mend %s %d", kind, at))
		if err != nil {
			return err
		}
		if exercise.Bill(entry.Minutes, entry.Money) > exercise.Bill(most.Minutes, most.Money) {
			most = entry
		}
		mended = append(mended, truth{action: "mend " + kind, at: at})
	}
	if len(mended) == 0 {
		mended = []truth{{words: s.Repair}} // nothing a practice car has
	}
	t.done = append(t.done, mended)
	t.x.Minutes, t.x.Money = minutes+most.Minutes, money+most.Money
	return nil
}

// renewAll renews every plug.
func (t *technician) renewAll(s plan.Suggestion) error {
	if _, err := t.ask("renew plug all"); err != nil {
		return err
	}
	var plugs []truth
	for _, c := range t.x.Layout.Cylinders() {
		plugs = append(plugs, truth{action: "renew plug", at: c})
	}
	t.done = append(t.done, plugs)
	return t.write(&job.Repaired{Repair: s.Repair, Words: s.Title})
}

// perCylinder reports whether a practice fault lives at one cylinder.
func perCylinder(kind string) bool {
	return slices.ContainsFunc(practice.Kinds(), func(k practice.Kind) bool { return k.Name == kind && k.Site == practice.AtCylinder })
}

// prove watches in the condition of the complaint for as long as a proof takes.
func (t *technician) prove() error {
	line, each, regime := "codes", idleS, t.card.Opened.Regime
	if regime == fault.Loaded {
		line, each = "road", roadS
	}
	watched, misses := 0.0, 0
	for watched < t.card.ProofSeconds() {
		entry, err := t.ask(line)
		if err != nil {
			return err
		}
		watched += each
		for _, share := range values(entry.Answer) {
			if share > 1 {
				misses++
			}
		}
	}
	p, err := t.card.Prove(t.cat, job.Watch{Regime: regime, WatchedS: watched, Misses: misses})
	if err != nil {
		return err
	}
	t.say("  %v: %s", p.Proven, p.Why)
	t.day.steps = append(t.day.steps, fmt.Sprintf("proof %v", p.Proven))
	if !p.Proven && misses == 0 {
		t.day.ended = unproven + p.Why
	}
	return t.write(p)
}
