package script

import (
	"fmt"
	"math"
	"slices"
	"time"

	"halforder/engine"
	"halforder/measure/cutout"
)

// Phase is where the test stands.
type Phase string

// The phases.
const (
	Prepare Phase = "prepare" // engine not running or not steady yet
	Steady  Phase = "steady"  // steady, waiting for the catalyst or the next cut
	Pull    Phase = "pull"    // asked to pull
	Hold    Phase = "hold"    // off, being measured
	Back    Phase = "back"    // asked to plug in
	Recover Phase = "recover" // on again, running clean
	Restart Phase = "restart" // stalled: plug in and start
	Done    Phase = "done"
	Stopped Phase = "stopped" // by a hard stop
)

// Prompt is something to say.
type Prompt struct {
	Text   string            `json:"text"`
	Urgent bool              `json:"urgent,omitempty"` // repeat until heeded
	Cut    []engine.Cylinder `json:"cut,omitempty"`    // it is about these
}

// Times of the course in seconds (trade notes 1.8 where they overlap: 5–10 s
// before, 3–5 s off; the rest judgement).
const (
	steadyFor    = 6.0
	nagAfter     = 20.0 // not steady
	pullPatience = 5.0  // until asked whether it is off
	pullGiveUp   = 9.0  // until it counts as unseen
	holdFor      = 4.0
	backPatience = 4.0
	recoverFor   = 8.0
	urgentEvery  = 2.0
	stalledBelow = 0.45 // of the idle that was
)

// Script is a running test. It is not safe for several goroutines.
type Script struct {
	setup   Setup
	watch   watch
	phase   Phase
	since   time.Time // of the phase
	spoke   time.Time // last repeated prompt
	ordered time.Time // back on by the budget's hard stop, zero: not
	now     time.Time
	before  level
	idle    float64 // speed before the first cut

	next   cutout.Unit // planned, nil: ask the plan
	unit   cutout.Unit
	called time.Time // when it was asked for
	seen   bool
	asked  bool
	length float64 // of this cut
	marks  []cutout.Mark
	origin time.Time // marks count seconds from here
	out    []Prompt
}

// New starts a script. Times in its marks count from the first sample.
func New(setup Setup) (*Script, error) {
	if err := setup.check(); err != nil {
		return nil, err
	}
	if setup.Budget == nil {
		setup.Budget = &fixedBudget{}
	}
	if setup.Idle == 0 {
		setup.Idle = 400
	}
	return &Script{setup: setup, phase: Prepare}, nil
}

// Phase is where the test stands.
func (s *Script) Phase() Phase { return s.phase }

// Cutting is the unit asked for or off, nil outside a cut.
func (s *Script) Cutting() cutout.Unit {
	if s.phase == Pull || s.phase == Hold || s.phase == Back {
		return s.unit
	}
	return nil
}

// Marks are the cuts so far, as the analysis wants them: seconds after the
// first sample.
func (s *Script) Marks() []cutout.Mark { return slices.Clone(s.marks) }

// Step takes the next sample and returns what to say now. Samples out of order
// are left out. A stream that falls silent, as a bus does when the ignition goes
// off, must be told with samples of speed 0.
func (s *Script) Step(in Sample) []Prompt {
	if in.At.Before(s.now) || math.IsNaN(in.RPM) || math.IsInf(in.RPM, 0) {
		return nil
	}
	if s.origin.IsZero() {
		s.origin, s.since, s.spoke = in.At, in.At, in.At
		s.say("Park brake on, extraction on, consumers off. Let the engine idle.")
	}
	s.now = in.At
	s.watch.add(in)
	switch {
	case s.phase == Done || s.phase == Stopped:
	case s.stalled(in):
		s.stall()
	default:
		s.guard()
		s.act(in)
	}
	out := s.out
	s.out = nil
	return out
}

func (s *Script) act(in Sample) {
	switch s.phase {
	case Prepare:
		s.prepare()
	case Steady:
		s.steady()
	case Pull:
		s.pull(in)
	case Hold:
		s.hold(in)
	case Back:
		s.back(in)
	case Recover:
		if seconds(s.since, s.now) > recoverFor {
			s.to(Steady)
		}
	case Restart:
		s.restart()
	}
}

func (s *Script) to(p Phase) {
	s.phase, s.since, s.spoke, s.asked, s.ordered = p, s.now, s.now, false, time.Time{}
}

func (s *Script) say(format string, args ...any) {
	s.out = append(s.out, Prompt{Text: fmt.Sprintf(format, args...), Cut: s.Cutting()})
}

func (s *Script) urge(format string, args ...any) {
	s.out = append(s.out, Prompt{Text: fmt.Sprintf(format, args...), Cut: s.Cutting(), Urgent: true})
	s.spoke = s.now
}

func (s *Script) stamp() float64 { return seconds(s.origin, s.now) }

func (s *Script) prepare() {
	if s.watch.still(steadyFor) && s.watch.level(1).speed > s.setup.Idle {
		s.idle = s.watch.level(steadyFor).speed
		s.to(Steady)
		return
	}
	if seconds(s.spoke, s.now) > nagAfter {
		s.spoke = s.now
		s.say("Not steady yet. Switch off fans, air conditioning and lights, and take the foot off.")
	}
}

// steady waits for the catalyst and a still engine, and then asks for a cut.
func (s *Script) steady() {
	if s.next == nil {
		next, ok, why := s.setup.Plan(s.Marks())
		if !ok {
			s.to(Done)
			s.say("Done. %s Check that every connector is locked.", why)
			return
		}
		s.next = next
	}
	next := s.next
	length, _, wait, reason := s.setup.Budget.Before(s.now, next)
	if wait < 0 {
		s.to(Done)
		s.say("No more cuts. %s Check that every connector is locked.", reason)
		return
	}
	if wait > 0 || length <= 0 {
		if !s.asked {
			s.asked = true
			s.say("Let it run clean for %.0f seconds.", math.Ceil(max(wait, 1)))
		}
		return
	}
	if !s.watch.still(steadyFor/2) && seconds(s.since, s.now) < nagAfter {
		return
	}
	s.unit, s.next = next, nil
	s.called, s.seen, s.length = s.now, false, min(length, holdFor)
	s.before = s.watch.level(steadyFor / 2)
	s.to(Pull)
	s.say("Pull %s.", spoken(next))
}

// pull waits for the engine to get weaker.
func (s *Script) pull(in Sample) {
	waited := seconds(s.since, s.now)
	switch {
	case waited > 0.2 && s.watch.changed(s.before, +1), in.Named != 0:
		s.seen = true
		s.begin(in)
		s.say("Seen. Keep it off.")
	case in.Tap, waited > pullGiveUp:
		s.begin(in)
		s.say("No change so far. Keep it off.")
	case waited > pullPatience && !s.asked:
		s.asked = true
		s.say("I see no change. Is %s off?", spoken(s.unit))
	}
}

// begin books the cut. A stream that can name it corrects what was called.
func (s *Script) begin(in Sample) {
	if in.Named != 0 && !slices.Contains(s.unit, in.Named) {
		s.say("That was %d, not %s.", in.Named, spoken(s.unit))
		s.unit = cutout.Unit{in.Named}
	}
	s.marks = append(s.marks, cutout.Mark{At: s.whenOff(), Cylinders: slices.Clone(s.unit), Unsure: !s.seen && !in.Tap})
	s.setup.Budget.Begin(s.now, s.unit)
	s.to(Hold)
}

// whenOff is the mark of the cut, as a press of the button would be: a little
// before a change that was seen, else a little after it was asked for.
func (s *Script) whenOff() float64 {
	if s.phase == Pull && s.watch.changed(s.before, +1) {
		return s.stamp() - 1
	}
	return seconds(s.origin, s.called) + 1
}

func (s *Script) hold(in Sample) {
	if in.Named != 0 && !slices.Contains(s.unit, in.Named) { // named late
		s.say("That was %d, not %s.", in.Named, spoken(s.unit))
		s.unit = cutout.Unit{in.Named}
		s.marks[len(s.marks)-1].Cylinders = slices.Clone(s.unit)
	}
	if seconds(s.since, s.now) >= s.length {
		s.before = s.watch.level(1.5)
		s.to(Back)
		s.say("%s back on.", capital(spoken(s.unit)))
	}
}

// back waits for the engine to get stronger. A dead cylinder coming back does
// not show: after asking once it counts as done, but not where fuel would go on
// burning in the catalyst if it were not.
func (s *Script) back(in Sample) {
	waited := seconds(s.since, s.now)
	switch {
	case waited > 0.2 && s.watch.changed(s.before, -1):
		s.end(s.stamp() - 1)
	case in.Tap, !s.seen && waited > backPatience, !s.setup.Means.Spark() && waited > 2*backPatience:
		s.end(seconds(s.origin, s.since) + 1)
	case waited > backPatience && !s.asked:
		s.asked = true
		s.say("Is %s back on?", spoken(s.unit))
	}
}

func (s *Script) end(at float64) {
	s.marks = append(s.marks, cutout.Mark{At: max(at, s.marks[len(s.marks)-1].At+1), On: true})
	s.setup.Budget.End(s.now)
	s.to(Recover)
	s.say("Good.")
}

// guard enforces the hard stop while something is off.
func (s *Script) guard() {
	stop, why := s.setup.Budget.Stop(s.now)
	if !stop {
		return
	}
	switch s.phase {
	case Hold:
		s.before = s.watch.level(1.5)
		s.to(Back)
		s.urge("%s back on now. %s", capital(spoken(s.unit)), why)
	case Back:
		if s.ordered.IsZero() {
			s.ordered = s.now
		}
		if seconds(s.ordered, s.now) > 2*urgentEvery {
			s.marks = append(s.marks, cutout.Mark{At: s.stamp(), On: true})
			s.to(Stopped)
			s.urge("Switch the engine off. %s", why)
			return
		}
		if seconds(s.spoke, s.now) > urgentEvery {
			s.urge("%s back on now. %s", capital(spoken(s.unit)), why)
		}
	case Prepare, Steady, Recover:
		s.to(Stopped)
		s.urge("Switch the engine off. %s", why)
	}
}

func (s *Script) stalled(in Sample) bool {
	return s.idle > 0 && in.RPM < stalledBelow*s.idle && s.phase != Restart
}

// stall closes a running cut and leads back to a running engine.
func (s *Script) stall() {
	switch s.phase {
	case Pull:
		s.marks = append(s.marks, cutout.Mark{At: s.stamp() - 1.5, Cylinders: slices.Clone(s.unit)}, cutout.Mark{At: s.stamp(), On: true})
	case Hold, Back:
		s.marks = append(s.marks, cutout.Mark{At: max(s.stamp(), s.marks[len(s.marks)-1].At+0.5), On: true})
		s.setup.Budget.End(s.now)
	}
	unit := s.Cutting()
	s.to(Restart)
	if unit != nil {
		s.say("It stopped. Ignition off, %s back on, then start again.", spoken(unit))
		return
	}
	s.say("It stopped. Start again.")
}

func (s *Script) restart() {
	if s.watch.still(steadyFor) && s.watch.level(1).speed > s.setup.Idle {
		s.say("Running again.")
		s.to(Recover)
		return
	}
	if seconds(s.spoke, s.now) > nagAfter {
		s.spoke = s.now
		s.say("Waiting for the engine to idle.")
	}
}

// spoken is a unit as one says it: "3", "1 and 4".
func spoken(u cutout.Unit) string {
	text := ""
	for i, c := range u {
		if i > 0 {
			text += " and "
		}
		text += fmt.Sprint(int(c))
	}
	return text
}

func capital(text string) string { return "Number " + text }
