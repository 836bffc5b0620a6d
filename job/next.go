package job

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// ProveStep is the Check of a suggestion to prove the repair; it is no check of
// the catalogue.
const ProveStep = "prove"

// stillBad is the belief that a fault is still in the car from which looking
// for it comes before proving.
const stillBad = 0.5

// Next is what to do now: what the plan proposes, or to prove a repair that has
// most likely ended the fault. rate is the workshop's price of an hour, 0 for
// the catalogue's; most is how many proposals are wanted, 0 for the usual five.
// What a code in without stands for, a check, a repair or a caution, is not
// proposed, nor any step that carries it. b is the card's Belief.
func (c *Card) Next(b *belief.Belief, rate float64, most int, without ...string) ([]plan.Suggestion, error) {
	if c.Status == StatusProven || c.Status == StatusClosed {
		return nil, nil
	}
	if c.Status == StatusRepaired && !c.faultRemains(b) {
		return c.toProve(b)
	}
	o := c.Circumstances()
	o.Rate, o.Limit, o.Opened = rate, most, c.wayOpen(b.Catalogue())
	for _, code := range without {
		if err := known(b.Catalogue(), code); err != nil {
			return nil, err
		}
	}
	o.Forbids = append(o.Forbids, without...)
	if most == 0 {
		most = plan.UsualLimit
	}
	o.Limit = max(most, searchedForCodes)
	steps, err := plan.Next(b, o)
	if err != nil {
		return nil, err
	}
	steps = codesFirst(steps)
	return steps[:min(most, len(steps))], nil
}

// searchedForCodes is among how many steps reading codes is looked for.
const searchedForCodes = 8

// codesFirst puts the reading of codes, where it is worth something, before a cut,
// which stores codes of its own. Common practice, no source.
func codesFirst(steps []plan.Suggestion) []plan.Suggestion {
	codes := slices.IndexFunc(steps, func(s plan.Suggestion) bool { return s.Check == codesCheck })
	if codes > 0 && steps[0].Check == cutCheck {
		read := steps[codes]
		return slices.Insert(slices.Delete(steps, codes, codes+1), 0, read)
	}
	return steps
}

// known reports a code that stands for nothing: forbidding it would forbid
// nothing.
func known(cat *fault.Catalogue, code string) error {
	_, err := cat.Check(code)
	if _, err2 := cat.Repair(code); err == nil || err2 == nil || cat.HasCaution(code) {
		return nil
	}
	return fmt.Errorf("%q is neither a check nor a repair nor a caution of the list: see halforder job checks", code)
}

// faultRemains reports whether a fault is more likely than not still in the car:
// all the hypotheses but those whose every fault sat in a part that has left it
// or at a place that was mended.
func (c *Card) faultRemains(b *belief.Belief) bool {
	return c.outOfCar(b)+b.NotMisfire() < 1-stillBad // where that was mended it counts twice, and is out all the more
}

func (c *Card) inCar(cat *fault.Catalogue, f belief.Fault) bool {
	if f.Site.Part != "" {
		return len(c.Seating.Where(f.Site.Kind, f.Site.Part)) > 0
	}
	cause, err := cat.Cause(f.Cause)
	return err != nil || !slices.ContainsFunc(c.Mended, func(m belief.Mend) bool {
		return m.Repair == cause.Repair && (len(m.Cylinders) == 0 || overlap(m.Cylinders, f.Site.Cylinders))
	})
}

func overlap(a, b []engine.Cylinder) bool {
	return slices.ContainsFunc(a, func(c engine.Cylinder) bool { return slices.Contains(b, c) })
}

// toProve is what proves the repair: to watch, or where nothing was seen to miss, to do
// again what showed the fault.
func (c *Card) toProve(b *belief.Belief) ([]plan.Suggestion, error) {
	cat := b.Catalogue()
	steps := []plan.Suggestion{c.proveStep(cat)}
	k := c.toRemeasure(cat)
	if k == nil {
		return steps, nil
	}
	shown, err := c.missWasShown(cat)
	if err != nil {
		return steps, err
	}
	if shown {
		if hidden, _ := c.stillHidden(cat); hidden != nil {
			steps = append([]plan.Suggestion{c.hiddenStep(hidden)}, steps...)
		}
		return steps, nil
	}
	var so Proved
	if c.remeasured(b, &so); so.Proven {
		return steps, nil
	}
	return append([]plan.Suggestion{c.remeasureStep(k)}, steps...), nil
}

func (c *Card) proveStep(cat *fault.Catalogue) plan.Suggestion {
	needed := c.ProofSeconds()
	return plan.Suggestion{Check: ProveStep, Title: "Prove the repair", Regime: c.Opened.Regime, Minutes: needed / 60,
		Asks:     "Is the miss gone, by the same measure as before?",
		Why:      fmt.Sprintf("The fault is most likely out of the car. Watch or record the engine for at least %.0f s in the condition of the complaint; codes are cleared after that, not before.", needed) + c.inStretches(cat),
		Cautions: []string{"Exhaust extraction on; hands, hair and leads clear of belts and fans; brake on, no gear."}}
}

// Circumstances are what the card says of the next step: where the parts sit,
// how the complaint shows, what the job forbids.
func (c *Card) Circumstances() plan.Options {
	o := plan.Options{Seating: c.Seating, Mended: c.Mended, Regime: c.Opened.Regime, Miss: c.MissNow(), Hybrid: c.Opened.Hybrid}
	o.Forbids = append(c.codesForbid(), c.recordingsForbid()...)
	if c.Opened.Lamp == LampFlashing {
		o.Forbids = append(o.Forbids, "road") // raw fuel in a hot catalyst: no drive to find out more
	}
	return o
}

// recordingsForbid are the checks that recordings of the car as it is now have
// answered, in the condition of the complaint: one that tells, or two that do not.
func (c *Card) recordingsForbid() []string {
	answered := 0
	for _, f := range c.Findings {
		recording, _ := c.Recording(f.What.SHA256)
		if f.Seq < c.lastChange() || !sameCondition(recording.What.Regime, c.Opened.Regime) {
			continue
		}
		if answered++; f.What.Finding.Verdict != finding.CannotTell || answered > 1 {
			return []string{recordCheck}
		}
	}
	return nil
}

// sameCondition reports whether two conditions may be one; an unknown one may be any.
func sameCondition(a, b fault.Regime) bool {
	anyOf := func(r fault.Regime) bool { return r == "" || r == fault.Any }
	return a == b || anyOf(a) || anyOf(b)
}

// recordCheck is the check of the catalogue that a recording answers.
const recordCheck = "record"

// MissNow is whether the miss is there, as the last entry that tells says. A
// change of the car since makes it unknown again.
func (c *Card) MissNow() belief.Presence {
	var at int64
	now := belief.Unknown
	if c.Opened.EveryS == 0 {
		now = belief.Present // a steady complaint, until something says otherwise
	}
	tell := func(seq int64, p belief.Presence) {
		if p != belief.Unknown && seq > at {
			at, now = seq, p
		}
	}
	for _, f := range c.Findings {
		tell(f.Seq, presenceOf(f.What.Finding.Verdict))
	}
	for _, r := range c.Readings {
		tell(r.Seq, r.What.Miss)
	}
	for _, s := range c.Swaps {
		if s.Watched != nil {
			tell(s.Watched.Seq, afterSwap(s.Watched.What.Outcome))
		}
	}
	if len(c.Repairs) > 0 && c.Repairs[len(c.Repairs)-1].Seq > at {
		return belief.Unknown
	}
	return now
}

func presenceOf(v finding.Verdict) belief.Presence {
	return map[finding.Verdict]belief.Presence{finding.Misfire: belief.Present, finding.NoMisfire: belief.Absent}[v]
}

func afterSwap(f belief.Follow) belief.Presence {
	if f == belief.Vanishes {
		return belief.Absent
	}
	return belief.Present
}
