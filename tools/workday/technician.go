package main

import (
	"fmt"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/practice/exercise"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// mostSteps is after how many steps a technician gives up.
const mostSteps = 40

// How a day ends.
const (
	proven   = "proven"
	unproven = "quiet, but not proven: "
	handedOn = "handed on"
	gaveUp   = "no step left"
)

// day is one car from complaint to proof.
type day struct {
	bill     float64
	best     float64 // the bill of the best plan of who knows all suspects
	truth    truth
	ended    string
	steps    []string
	mended   bool     // the hidden fault is out of the car
	needless []string // repairs that were not the one
	accused  []string // good parts that stood at 90 % or more
	err      error
}

func (d day) String() string {
	if d.err != nil {
		return fmt.Sprintf("STUCK: %v after %s", d.err, strings.Join(d.steps, ", "))
	}
	verdict := "NOT MENDED"
	if d.mended {
		verdict = "mended"
	}
	out := fmt.Sprintf("%s, %s; %s, bill %.0f of %.0f; %s", verdict, d.ended, d.truth.words, d.bill, d.best, strings.Join(d.steps, ", "))
	if len(d.accused) > 0 {
		out += "; ACCUSED " + strings.Join(d.accused, ", ")
	}
	return out
}

// technician does what the plan says and writes it on the card.
type technician struct {
	cat    *fault.Catalogue
	x      *exercise.Exercise
	events []job.Event
	card   *job.Card
	skip   []string  // checks this car cannot have
	done   [][]truth // repairs, each by all that it mends
	felt   map[fault.Regime]belief.Presence
	held   []truth // parts that stood accused
	trace  bool
	day    day
}

func work(cat *fault.Catalogue, x *exercise.Exercise, trace bool) day {
	t := technician{cat: cat, x: x, trace: trace, felt: map[fault.Regime]belief.Presence{}}
	t.skip = []string{"feel", "tailpipe"} // counters and recordings say the same better
	for _, k := range cat.Checks() {
		if _, ok := errands[k.Code]; !ok {
			t.skip = append(t.skip, k.Code)
		}
	}
	if t.day.err = t.write(opening(x)); t.day.err != nil {
		return t.day
	}
	for range mostSteps {
		done, err := t.step()
		if err != nil {
			t.day.err = err
			return t.day
		}
		if done {
			break
		}
	}
	t.close()
	return t.day
}

// openings are how a complaint goes on a card.
var openings = map[string]job.Opened{
	"dead":    {Complaint: fault.DeadOne, Regime: fault.Idle, Lamp: job.LampSteady},
	"flicker": {Complaint: fault.WeakOne, Regime: fault.Idle, EveryS: 10},
	"load":    {Complaint: fault.LoadOnly, Regime: fault.Loaded},
	"rough":   {Complaint: fault.Rough, Regime: fault.Idle},
}

func opening(x *exercise.Exercise) *job.Opened {
	o := openings[x.Complaint]
	o.Car, o.Engine, o.Ignition, o.Injection, o.Access = "practice car", x.Layout, fault.CoilOnPlug, fault.Port, fault.Easy
	o.Words, o.Practice = x.Story, true
	if x.Buried {
		o.Access = fault.Hard
	}
	return &o
}

// write puts what happened on the card, or nothing of it.
func (t *technician) write(bodies ...job.Body) error {
	events := slices.Clone(t.events)
	for _, b := range bodies {
		events = append(events, job.Event{Seq: int64(len(events) + 1), By: "workday", Body: b})
	}
	card, err := job.Fold(1, events)
	if err == nil {
		t.events, t.card = events, card
	}
	return err
}

func (t *technician) say(format string, args ...any) {
	if t.trace {
		fmt.Printf("    "+format+"\n", args...)
	}
}

// step does the next thing and reports whether the day is over.
func (t *technician) step() (done bool, err error) {
	switch {
	case t.card.Status == job.StatusProven:
		t.day.ended = proven
		return true, nil
	case t.day.ended != "":
		return true, nil
	}
	b, err := t.card.Belief(t.cat)
	if err != nil {
		return false, err
	}
	t.note(b)
	next, err := t.card.Next(b, 0, 0, t.skip...)
	if err != nil {
		return false, err
	}
	if len(next) == 0 {
		t.day.ended = gaveUp
		return true, nil
	}
	s := next[0]
	t.say("%s — %s", s.Title, s.Why)
	switch {
	case s.Check == job.ProveStep:
		return false, t.prove()
	case s.Repair == plan.HandOver:
		t.day.ended = handedOn
		return true, nil
	case s.Repair != "":
		t.day.steps = append(t.day.steps, strings.ToUpper(s.Repair)+places(s.Cylinders))
		return false, t.mend(s)
	}
	t.day.steps = append(t.day.steps, s.Check+places(s.Cylinders))
	return false, t.check(s)
}

func places(at []engine.Cylinder) string {
	if len(at) == 0 {
		return ""
	}
	return " " + strings.Trim(fmt.Sprint(at), "[]")
}

// sure is from which belief a part stands accused.
const sure = 0.9

// note writes down the parts that stand accused.
func (t *technician) note(b *belief.Belief) {
	for _, p := range b.Parts() {
		if p.P < sure {
			break
		}
		t.held = append(t.held, t.origin(fault.PartID(p.Name)))
	}
	suspects := b.Suspects()
	for _, s := range suspects[:min(3, len(suspects))] {
		t.say("  %.0f %% %s %s", 100*s.P, s.Cause, s.Site.Name)
	}
}

// origin is where a part sat when the car came in; one that came new has none.
func (t *technician) origin(id fault.PartID) truth {
	first := fault.FirstSeating(t.x.Layout, fault.CoilOnPlug, fault.Port)
	for _, kind := range fault.PartKinds() {
		if at := first.Where(kind, id); len(at) > 0 {
			return truth{action: "renew " + string(kind), at: at[0]}
		}
	}
	return truth{words: "new " + string(id)}
}

// close learns what was hidden and judges the day by it.
func (t *technician) close() {
	d := &t.day
	if d.ended == "" {
		d.ended = gaveUp
	}
	d.bill = exercise.Bill(t.x.Minutes, t.x.Money)
	score, err := t.x.Name("shake") // some name: only the truth behind it is wanted
	if err != nil {
		d.err = err
		return
	}
	d.best, d.truth = score.Best, readTruth(score.Truth)
	for _, repair := range t.done {
		if slices.ContainsFunc(repair, func(r truth) bool { return r.same(d.truth) }) {
			d.mended = true
		} else {
			d.needless = append(d.needless, repair[0].action+places([]engine.Cylinder{repair[0].at}))
		}
	}
	for _, r := range t.held {
		if said := r.action + r.words + places([]engine.Cylinder{r.at}); !r.same(d.truth) && !slices.Contains(d.accused, said) {
			d.accused = append(d.accused, said)
		}
	}
}
