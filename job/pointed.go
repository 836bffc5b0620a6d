package job

import (
	"fmt"
	"slices"
	"strings"

	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// The mixture control learns to live with a leak, a lazy pump or a sensor that is wrong:
// a miss seen in the morning can be gone by noon with the fault still there. Such a
// repair is proven only when something that pointed at it is sound now, too.

// pointsAt is from how many times the chance on a sound car an outcome points at a fault.
const pointsAt = 3

// hidden are the mended causes that the mixture control can make up for.
func (c *Card) hidden(cat *fault.Catalogue) []*fault.Cause {
	var out []*fault.Cause
	for _, x := range cat.Causes() {
		mended := slices.ContainsFunc(c.Mended, func(m belief.Mend) bool { return m.Repair == x.Repair })
		if mended && slices.ContainsFunc(x.Severities, func(s fault.Weight) bool {
			return cat.OfCause(trimsCheck, x, fault.Severity(s.Name), fault.Showing, true) != nil
		}) {
			out = append(out, x)
		}
	}
	return out
}

// pointed are the checks that before the first repair pointed at what was mended and the
// mixture control can hide, the quickest first.
func (c *Card) pointed(cat *fault.Catalogue) []*fault.Check {
	causes := c.hidden(cat)
	var out []*fault.Check
	for _, k := range c.showedIt(cat) {
		for _, r := range c.Readings {
			if r.What.Check == k.Code && r.Seq < c.Repairs[0].Seq && pointsAtAny(cat, k, r.What, causes) {
				out = append(out, k)
				break
			}
		}
	}
	slices.SortStableFunc(out, func(a, b *fault.Check) int { return int(a.MinutesEasy - b.MinutesEasy) })
	return out
}

func pointsAtAny(cat *fault.Catalogue, k *fault.Check, e Entered, causes []*fault.Cause) bool {
	return slices.ContainsFunc(causes, func(x *fault.Cause) bool {
		return slices.ContainsFunc(x.Severities, func(s fault.Weight) bool {
			return passing(cat, k, e, cat.OfCause(k.Code, x, fault.Severity(s.Name), fault.Showing, true)) >= pointsAt
		})
	})
}

// stillHidden is what keeps the absence of misses from proving a repair: the check that
// pointed at it and is to be done again, and how that is said; empty where one that did is
// sound now, or none did.
func (c *Card) stillHidden(cat *fault.Catalogue) (next *fault.Check, why string) {
	pointed := c.pointed(cat)
	for _, k := range pointed {
		if again, ok := c.readAgain(k.Code); ok && odd(cat, k, again) {
			return nil, fmt.Sprintf("; but what pointed at the fault still does: %s", strings.ToLower(k.Title))
		} else if ok {
			return nil, ""
		}
	}
	if len(pointed) == 0 {
		return nil, ""
	}
	return pointed[0], fmt.Sprintf("; but the mixture control can hide this fault: do again what pointed at it, %s", strings.ToLower(pointed[0].Title))
}

// alsoSound takes back a proof by watching alone.
func (c *Card) alsoSound(cat *fault.Catalogue, p *Proved) error {
	_, why := c.stillHidden(cat)
	if !p.Proven || why == "" {
		return nil
	}
	b, err := c.Belief(cat)
	if err != nil {
		return err
	}
	p.Proven, p.Confidence, p.Why = false, min(p.Confidence, c.outOfCar(b)), p.Why+why
	return nil
}

// hiddenStep asks for what pointed at a fault that the mixture control can hide.
func (c *Card) hiddenStep(k *fault.Check) plan.Suggestion {
	s := c.remeasureStep(k)
	s.Why = "The mixture control can hide this fault, so that no miss alone does not prove the repair. This pointed at it: see that it is sound now."
	return s
}
