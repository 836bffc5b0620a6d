package job

import (
	"fmt"
	"math"
	"slices"

	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// ProofLevel is the confidence from which a repair counts as proven.
const ProofLevel = 0.95

// steadyEveryS stands for the time between misses of a complaint that is there
// all the time, in seconds: such a miss shows within a few engine cycles, so
// this is generous. Judgement, no source.
const steadyEveryS = 5

// Watch is what was seen after a repair: for how long, in which condition, and
// how often it missed. A recording may stand for it.
type Watch struct {
	Regime   fault.Regime
	WatchedS float64 // in all
	Misses   int
	// Stretches is in how many equal stretches it was watched, 0: in one go. Of
	// them Misses is how many had a miss.
	Stretches int
	After     *Recorded // nil: watched by eye and ear
	Finding   *finding.Finding
}

// Prove judges a watch against the complaint.
//
// If the fault were still there, misses would come about every τ seconds in the
// complaint's condition, so the chance to see none in T seconds is exp(−T/τ);
// three times τ without one gives 95 % (the rule of three). Another condition
// proves nothing. With recordings, the one before must show the miss and the
// one after must not. What the mixture control can hide has to be measured again, too.
func (c *Card) Prove(cat *fault.Catalogue, w Watch) (*Proved, error) {
	p := &Proved{Regime: w.Regime, WatchedS: w.WatchedS, Misses: w.Misses, Stretches: w.Stretches}
	if w.After != nil {
		p.After = w.After.SHA256
		if before, ok := c.before(*w.After); ok {
			p.Before = before.What.SHA256
		}
	}
	shown, err := c.missWasShown(cat)
	if err != nil {
		return nil, err
	}
	if p.Why = c.whyNot(w, p.Before); p.Why != "" {
		return p, nil
	}
	if w.Finding == nil && !shown {
		return c.proveByMeasure(cat, p)
	}
	weigh := c.weigh
	if w.Stretches > 0 {
		weigh = func(p *Proved, w Watch) error { return c.weighStretches(cat, p, w) }
	}
	if err := weigh(p, w); err != nil {
		return p, err
	}
	return p, c.alsoSound(cat, p)
}

// weigh gives the confidence that watching and, where there is one, the
// recording allow: the weaker of the two.
func (c *Card) weigh(p *Proved, w Watch) error {
	every := c.missEvery()
	var err error
	if p.Confidence, err = plan.CleanConfidence(every, w.WatchedS); err != nil {
		return err
	}
	p.Why = fmt.Sprintf("no miss in %.0f s; a fault still there would have shown about every %.0f s", w.WatchedS, every)
	if p.Confidence < ProofLevel {
		p.Why += fmt.Sprintf(": watch at least %.0f s for %.0f %%", c.ProofSeconds(), 100*ProofLevel)
	}
	if left := c.chanceLeft(w.Finding); 1-left < p.Confidence {
		p.Confidence = 1 - left
		p.Why += fmt.Sprintf("; the recording alone leaves %.0f %% for a miss", 100*left)
		if p.Confidence < ProofLevel {
			p.Why += ": record longer, or from another place"
		}
	}
	p.Proven = p.Confidence >= ProofLevel
	return nil
}

// chanceLeft is the chance of a misfire that a recording leaves, 0 without one
// or where its analysis gives none.
func (c *Card) chanceLeft(f *finding.Finding) float64 {
	if f == nil {
		return 0
	}
	chance, _ := f.Quantity(finding.ChanceOfMisfire)
	return chance.Value
}

// ProofSeconds is how long the engine has to run without a miss, in the
// condition of the complaint, for ProofLevel.
func (c *Card) ProofSeconds() float64 {
	seconds, err := plan.CleanTime(c.missEvery(), ProofLevel)
	if err != nil {
		panic(err) // missEvery is above 0, checked when the job was opened
	}
	return math.Ceil(seconds)
}

func (c *Card) missEvery() float64 {
	if c.Opened.EveryS > 0 {
		return c.Opened.EveryS
	}
	return steadyEveryS
}

// whyNot says what keeps a watch from proving anything, empty if nothing does.
func (c *Card) whyNot(w Watch, before string) string {
	wanted := c.Opened.Regime
	switch {
	case w.Misses > 0 && w.Stretches == 0:
		return fmt.Sprintf("%d misses were seen: it is not repaired, or there is a second fault", w.Misses)
	case wanted != fault.Any && wanted != "" && w.Regime != wanted:
		return fmt.Sprintf("it was watched in the condition %q, the complaint was %q: watch it there", w.Regime, wanted)
	case w.Finding != nil && w.Finding.Verdict != finding.NoMisfire:
		return "the recording after the repair does not show a sound engine: " + w.Finding.Sentence
	case w.Finding != nil && before == "":
		return "there is no recording from before the repair, in the same condition, to compare with"
	case w.Finding != nil && c.verdictOf(before) != finding.Misfire:
		return "the recording from before the repair does not show the miss: its absence now proves nothing"
	}
	return ""
}

// before finds the last recording from before the first repair that can be
// compared with after: same sensor, same condition.
func (c *Card) before(after Recorded) (Stamped[Recorded], bool) {
	for i := len(c.Recordings) - 1; i >= 0; i-- {
		r := c.Recordings[i]
		if len(c.Repairs) > 0 && r.Seq < c.Repairs[0].Seq && r.What.Sensor == after.Sensor && r.What.Regime == after.Regime {
			return r, true
		}
	}
	return Stamped[Recorded]{}, false
}

func (c *Card) verdictOf(sha256 string) finding.Verdict {
	for i := len(c.Findings) - 1; i >= 0; i-- {
		if c.Findings[i].What.SHA256 == sha256 {
			return c.Findings[i].What.Finding.Verdict
		}
	}
	return finding.CannotTell
}

// missWasShown reports whether something before the first repair showed a miss and
// all of it makes it all but sure that a cylinder missed.
func (c *Card) missWasShown(cat *fault.Catalogue) (bool, error) {
	earlier := c.evidenceBy(cat)
	changed := func(e belief.Evidence) bool { return e.Renewed != nil || len(e.Mended) > 0 }
	if i := slices.IndexFunc(earlier, changed); i >= 0 {
		earlier = earlier[:i]
	}
	if !slices.ContainsFunc(earlier, func(e belief.Evidence) bool { return c.showsMiss(cat, e) }) {
		return false, nil
	}
	b, err := belief.New(cat, c.Car(), earlier)
	if err != nil {
		return false, err
	}
	return b.Silent() <= 1-ProofLevel, nil
}

// missChecks see or count misses themselves, not their traces.
var missChecks = []string{"feel", recordCheck, "tailpipe", countersCheck, "header-heat", cutCheck, codesCheck, severalCheck}

// showsMiss reports whether a piece of evidence says that a cylinder missed.
func (c *Card) showsMiss(cat *fault.Catalogue, e belief.Evidence) bool {
	switch {
	case e.Miss == belief.Present:
		return true
	case e.Swap != nil:
		return e.Swap.Outcome != belief.Vanishes
	case e.Finding != nil:
		return e.Finding.MissLikeliest(c.Layout().N())
	case e.Watched != nil:
		return e.Watched.Came
	case e.Reading == nil || !slices.Contains(missChecks, e.Reading.Check):
		return false
	}
	k, err := cat.Check(e.Reading.Check)
	return err == nil && e.Reading.Outcome != k.Outcomes[0].Code
}
