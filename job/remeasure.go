package job

import (
	"fmt"
	"slices"
	"strings"

	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// Not every fault makes a cylinder miss: a leak that the mixture control makes up for
// idles rough with every firing there. Then the absence of misses proves nothing, and
// the measure that showed the fault has to show it gone.

// oddOnSound is the chance on a sound car below which an outcome shows a fault.
const oddOnSound = 0.15

// showedIt are the checks of the whole engine whose outcome before the first repair a
// sound car hardly gives, in the order they were done.
func (c *Card) showedIt(cat *fault.Catalogue) []*fault.Check {
	var out []*fault.Check
	for _, r := range c.Readings {
		if len(c.Repairs) > 0 && r.Seq > c.Repairs[0].Seq {
			break
		}
		k, err := cat.Check(r.What.Check)
		if err != nil || k.Scope != fault.WholeEngine && k.Scope != fault.PerBank || slices.Contains(out, k) {
			continue
		}
		if odd(cat, k, r.What) {
			out = append(out, k)
		}
	}
	return out
}

func odd(cat *fault.Catalogue, k *fault.Check, e Entered) bool {
	return slices.ContainsFunc(e.Results, func(r Result) bool {
		i, err := k.Outcome(r.Outcome)
		sound := cat.Sound(k.Code)
		return err == nil && i > 0 && i < len(sound) && sound[i] < oddOnSound
	})
}

// readAgain is the last reading of a check since the car was last changed.
func (c *Card) readAgain(check string) (Entered, bool) {
	for i := len(c.Readings) - 1; i >= 0 && c.Readings[i].Seq > c.lastChange(); i-- {
		if c.Readings[i].What.Check == check {
			return c.Readings[i].What, true
		}
	}
	return Entered{}, false
}

// toRemeasure is the check that showed the fault and has not been done again since
// the repair, nil where there is none.
func (c *Card) toRemeasure(cat *fault.Catalogue) *fault.Check {
	for _, k := range c.showedIt(cat) {
		if _, again := c.readAgain(k.Code); !again {
			return k
		}
	}
	return nil
}

// proveByMeasure is the judgement of a repair of which no miss was ever seen.
func (c *Card) proveByMeasure(cat *fault.Catalogue, p *Proved) (*Proved, error) {
	b, err := c.Belief(cat)
	if err != nil {
		return nil, err
	}
	c.remeasured(b, p)
	return p, nil
}

// remeasured judges a repair of which no miss was ever seen by the measures that showed
// the fault: all that were done again are sound, at least one was, and the belief says
// that nothing is left in the car.
func (c *Card) remeasured(b *belief.Belief, p *Proved) {
	cat := b.Catalogue()
	var sound, still []string
	for _, k := range c.showedIt(cat) {
		if again, ok := c.readAgain(k.Code); ok && odd(cat, k, again) {
			still = append(still, strings.ToLower(k.Title))
		} else if ok {
			sound = append(sound, strings.ToLower(k.Title))
		}
	}
	next := c.toRemeasure(cat)
	switch {
	case len(still) > 0:
		p.Why = fmt.Sprintf("no miss was seen before the repair, and what showed the fault still does: %s", strings.Join(still, ", "))
		return
	case len(sound) == 0 && next == nil:
		p.Why = "no entry from before the repair shows the miss: its absence now proves nothing"
		return
	case len(sound) == 0:
		p.Why = fmt.Sprintf("no miss was seen before the repair, so that its absence proves nothing: do again what showed the fault, %s", strings.ToLower(next.Title))
		return
	}
	p.Confidence = c.outOfCar(b)
	if !c.faultRemains(b) {
		p.Confidence = max(p.Confidence, 1-c.chanceStill(cat))
	}
	p.Proven = p.Confidence >= ProofLevel
	p.Why = fmt.Sprintf("no miss was seen before the repair; what showed the fault is sound now: %s", strings.Join(sound, ", "))
	switch {
	case p.Proven:
	case next != nil:
		p.Why += fmt.Sprintf(". That alone is not enough: do again %s", strings.ToLower(next.Title))
	default:
		p.Why += fmt.Sprintf(". That leaves %.0f %% for another fault: tell the customer what to watch for", 100*(1-p.Confidence))
	}
}

// chanceStill is the chance that what was mended is still bad, at even chances before
// it was measured again: it would have to pass for sound in all that showed it. 1 where
// that is not known.
func (c *Card) chanceStill(cat *fault.Catalogue) float64 {
	worst := 0.0
	for _, x := range cat.Causes() {
		if slices.ContainsFunc(c.Mended, func(m belief.Mend) bool { return m.Repair == x.Repair }) {
			worst = max(worst, c.oddsStill(cat, x))
		}
	}
	if worst == 0 {
		return 1
	}
	return worst / (1 + worst)
}

// oddsStill is how much better a cause that is still there explains what was measured
// again than a sound car does, in whichever of its manners.
func (c *Card) oddsStill(cat *fault.Catalogue, x *fault.Cause) float64 {
	worst := 0.0
	for _, s := range x.Severities {
		for _, when := range []fault.When{fault.Showing, fault.Resting} {
			odds := 1.0
			for _, k := range c.showedIt(cat) {
				if again, ok := c.readAgain(k.Code); ok {
					odds *= passing(cat, k, again, cat.OfCause(k.Code, x, fault.Severity(s.Name), when, true))
				}
			}
			worst = max(worst, odds)
		}
	}
	return worst
}

// passing is how much likelier a reading is by the chances of a fault, nil where it has
// none of its own, than on a sound car.
func passing(cat *fault.Catalogue, k *fault.Check, e Entered, chances *[]float64) float64 {
	odds := 1.0
	for _, r := range e.Results {
		if i, err := k.Outcome(r.Outcome); err == nil && chances != nil {
			odds *= (*chances)[i] / cat.Sound(k.Code)[i]
		}
	}
	return odds
}

// outOfCar is the chance that something was wrong and all of it has left the car.
func (c *Card) outOfCar(b *belief.Belief) float64 {
	out := 0.0
	for _, h := range b.Top(b.Size()) {
		if c.ended(b.Catalogue(), h) {
			out += h.P
		}
	}
	return min(out, 1)
}

func (c *Card) ended(cat *fault.Catalogue, h belief.Hypothesis) bool {
	if len(h.Faults) == 0 {
		cause, err := cat.Cause(fault.NotMisfire)
		return err == nil && slices.ContainsFunc(c.Mended, func(m belief.Mend) bool { return m.Repair == cause.Repair })
	}
	return !slices.ContainsFunc(h.Faults, func(f belief.Fault) bool { return c.inCar(cat, f) })
}

// remeasureStep asks for a check that showed the fault once more.
func (c *Card) remeasureStep(k *fault.Check) plan.Suggestion {
	o := c.Opened
	return plan.Suggestion{Check: k.Code, Title: k.Title + ", again", Regime: k.Regimes[0], Minutes: k.MinutesEasy, Asks: k.Asks,
		Why:      "No miss was seen before the repair, so that its absence would prove nothing. This showed the fault; if it is sound now, and nothing else is left, the repair is proven.",
		Cautions: plan.CautionWords(k.Cautions, o.Hybrid, o.Injection), Stops: plan.CautionWords(k.Stops, o.Hybrid, o.Injection)}
}
