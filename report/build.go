package report

import (
	"fmt"

	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Job is what a report is made of.
type Job struct {
	Card      *job.Card
	Catalogue *fault.Catalogue
	Learned   int            // closed jobs whose causes moved the priors of Catalogue
	Belief    *belief.Belief // nil: say nothing of causes
	Next      []Step
}

// New makes the report of a job.
func New(j Job) Report {
	card := j.Card
	r := Report{Number: int64(card.ID), Car: card.Opened.Car, Status: string(card.Status), Opened: card.At.At,
		Facts: facts(card), Complaint: complaint(card, j.Catalogue), Cautions: cautions(j),
		Measured: measured(j), Done: done(card), Proof: proof(card), Codes: codes(card), Spent: spent(card), Next: j.Next, Sheet: sheet(j)}
	if j.Belief != nil {
		r.Believed = believed(j)
		r.Moved = append(moved(j), priors(j)...)
	}
	r.Open = open(j)
	if card.Closing != nil {
		r.Closing = nonEmpty(card.Closing.What.Cause, card.Closing.What.Words, "closed "+clock(card.Closing.At))
	}
	return r
}

func facts(c *job.Card) []Fact {
	o := c.Opened
	out := []Fact{{"opened", clock(c.At.At)}, {"engine", o.Engine.Title()},
		{"ignition, injection", fmt.Sprintf("%s, %s", o.Ignition, o.Injection)}}
	if o.Km > 0 {
		out = append(out, Fact{"driven", fmt.Sprintf("%d km", o.Km)})
	}
	if o.Customer != "" {
		out = append(out, Fact{"customer", o.Customer})
	}
	if o.Lamp != job.LampUnknown {
		out = append(out, Fact{"engine lamp", string(o.Lamp)})
	}
	return out
}

func complaint(c *job.Card, cat *fault.Catalogue) []string {
	o := c.Opened
	out := nonEmpty(o.Words)
	kind := cat.Complaint(o.Complaint).Title
	if o.Regime != fault.Any && o.Regime != "" {
		kind += ", " + regimeWords(o.Regime)
	}
	if o.EveryS > 0 {
		kind += ", about every " + Duration(o.EveryS)
	}
	return append(out, kind)
}

// regimeWords says how the engine runs.
func regimeWords(r fault.Regime) string {
	return map[fault.Regime]string{fault.Any: "at any time", fault.Idle: "at warm idle", fault.Cold: "after a cold start",
		fault.Hot: "when hot", fault.Loaded: "when pulling", fault.Wet: "in the wet"}[r]
}

func spent(c *job.Card) []Fact {
	out := []Fact{}
	if c.Minutes > 0 {
		out = append(out, Fact{"time entered", Duration(c.Minutes * 60)})
	}
	if c.Cash > 0 {
		out = append(out, Fact{"parts", Money(int64(c.Cash))})
	}
	for _, a := range c.Agreements {
		words := a.What.Who
		if a.What.Limit > 0 {
			words += ", up to " + Money(int64(a.What.Limit))
		}
		if a.What.How != "" {
			words += ", " + a.What.How
		}
		out = append(out, Fact{"agreed " + clock(a.At), words})
	}
	return out
}

func nonEmpty(lines ...string) []string {
	var out []string
	for _, l := range lines {
		if l != "" {
			out = append(out, l)
		}
	}
	return out
}
