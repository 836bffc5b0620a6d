package main

import (
	"fmt"

	"halforder/job"
	"halforder/report"
)

type jobNextCmd struct {
	JSON bool    `help:"Print as JSON."`
	Rate float64 `placeholder:"MONEY" help:"The workshop's price of an hour."`
	Most int     `default:"3" help:"How many suggestions."`

	Without []string `placeholder:"CODES" help:"What this job forbids: checks, repairs, or what carries a caution, such as road for a drive."`
}

func (c *jobNextCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		if !(c.Rate >= 0) || c.Most < 1 {
			return badInput(fmt.Errorf("--rate %g --most %d: give a price from 0 and a number from 1 up", c.Rate, c.Most))
		}
		b, err := d.belief(card)
		if err != nil {
			return err
		}
		suggestions, err := card.Next(b, c.Rate, c.Most, c.Without...)
		if err != nil {
			return badInput(err)
		}
		if c.JSON {
			return r.printJSON(suggestions)
		}
		if len(suggestions) == 0 {
			return report.Line(r.Stdout, 0, report.NothingNext(card))
		}
		return report.NextText(r.Stdout, report.Steps(suggestions))
	})
}
