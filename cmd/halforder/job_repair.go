package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
)

// spent is the time and money of a piece of work.
type spent struct {
	Minutes float64 `help:"Working time."`
	Cost    float64 `help:"Money for parts."`
}

func (s spent) cents() (job.Cents, error) {
	if !(s.Cost >= 0 && s.Cost < 1e9) {
		return 0, fmt.Errorf("a cost of %g: give a sum from 0 up", s.Cost)
	}
	return job.Cents(math.Round(s.Cost * 100)), nil
}

type jobRenewCmd struct {
	Part     fault.PartKind `arg:"" help:"Kind of part: coil, plug, boot, lead, injector."`
	Cylinder int            `arg:"" help:"At which cylinder."`
	Words    string         `help:"What was fitted."`
	spent
}

func (c *jobRenewCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		part, err := fault.ParsePartKind(string(c.Part))
		if err != nil {
			return badInput(err)
		}
		cash, err := c.cents()
		if err != nil {
			return badInput(err)
		}
		at := engine.Cylinder(c.Cylinder)
		old := card.Seating.At(part, at)
		fresh := card.NewPartID(part)
		return d.enter(card, fmt.Sprintf("%s renewed at %d: %s out, %s in", part, at, old, fresh), &job.Repaired{
			Part: part, Cylinder: at, NewPart: fresh, Words: c.Words, Minutes: c.Minutes, Cash: cash})
	})
}

type jobMendCmd struct {
	What string `arg:"" help:"A repair of the list, such as wiring or runner-gasket, or in words what was done."`
	At   []int  `placeholder:"CYLINDERS" help:"At which cylinders; everywhere when left out."`
	spent
}

func (c *jobMendCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		cash, err := c.cents()
		if err != nil {
			return badInput(err)
		}
		if strings.TrimSpace(c.What) == "" {
			return badInput(errors.New("say what was done: a repair of the list, such as wiring, or some words"))
		}
		done := &job.Repaired{Words: c.What, Minutes: c.Minutes, Cash: cash}
		if !strings.Contains(c.What, " ") { // one word is a repair of the list
			repair, err := d.catalogue.Repair(c.What)
			if err != nil {
				return badInput(err)
			}
			if repair.Renews.Part() {
				return badInput(fmt.Errorf("use: halforder job renew %s CYLINDER, so that the card knows which part came in", repair.Renews))
			}
			done.Repair, done.Cylinders, done.Words = repair.Code, cylinders(c.At), repair.Title
		}
		return d.enter(card, strings.TrimSpace(done.Words+" "+engine.Places(done.Cylinders)), done)
	})
}

type jobAgreeCmd struct {
	Who   string  `arg:"" help:"Who agreed."`
	To    float64 `help:"Up to which sum."`
	How   string  `help:"By telephone, in person …"`
	Words string  `help:"To what."`
}

func (c *jobAgreeCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		limit, err := spent{Cost: c.To}.cents()
		if err != nil {
			return badInput(err)
		}
		return d.enter(card, c.Who+" agreed", &job.Agreed{Who: c.Who, How: c.How, Limit: limit, Words: c.Words})
	})
}

type jobNoteCmd struct {
	Text string `arg:"" help:"The remark."`
}

func (c *jobNoteCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		return d.enter(card, "noted", &job.Noted{Text: c.Text})
	})
}

type jobUndoCmd struct {
	Entry int64  `arg:"" optional:"" help:"Number of the entry; the last one that counts when left out."`
	Why   string `help:"Why."`
}

func (c *jobUndoCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		target := c.Entry
		if target == 0 {
			if len(card.Timeline) < 2 {
				return badInput(errors.New("there is nothing to take back on this job"))
			}
			target = card.Timeline[len(card.Timeline)-1].Seq
		}
		return d.enter(card, fmt.Sprintf("entry %d taken back", target), &job.Undone{Seq: target, Why: c.Why})
	})
}

func badInputIfMisfit(err error) error {
	if errors.As(err, new(*job.MisfitError)) {
		return badInput(err)
	}
	return err
}
