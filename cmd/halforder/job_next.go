package main

import (
	"fmt"

	"halforder/job"
	"halforder/reason/plan"
	"halforder/report"
)

type jobNextCmd struct {
	JSON bool    `help:"Print as JSON."`
	Rate float64 `placeholder:"MONEY" help:"The workshop's price of an hour."`
	Most int     `default:"3" help:"How many suggestions."`
}

func (c *jobNextCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		if !(c.Rate >= 0) || c.Most < 1 {
			return badInput(fmt.Errorf("--rate %g --most %d: give a price from 0 and a number from 1 up", c.Rate, c.Most))
		}
		suggestions, err := d.next(card, c.Rate, c.Most)
		if err != nil {
			return err
		}
		if c.JSON {
			return r.printJSON(suggestions)
		}
		if len(suggestions) == 0 {
			fmt.Fprintln(r.Stdout, "no check pays and no repair is worth trying: hand the job on, or look outside the list")
			return nil
		}
		return report.NextText(r.Stdout, report.Steps(suggestions))
	})
}

// next is what the plan proposes for a card; rate 0 is the catalogue's.
func (d desk) next(card *job.Card, rate float64, most int) ([]plan.Suggestion, error) {
	b, err := d.belief(card)
	if err != nil {
		return nil, err
	}
	o := card.Circumstances()
	o.Rate, o.Limit = rate, most
	return plan.Next(b, o)
}
