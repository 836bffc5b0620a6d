package main

import (
	"errors"

	"halforder/job"
)

type jobCodesCmd struct {
	Codes   []string `arg:"" optional:"" help:"Codes as the car gives them, such as P0303, or none."`
	Cleared bool     `help:"They were cleared in the car."`
}

func (c *jobCodesCmd) Run(r *run, g *jobCmd) error {
	if c.Cleared == (len(c.Codes) > 0) {
		return badInput(errors.New("name the codes, say none where none is stored, or --cleared"))
	}
	return g.withCard(r, func(d desk, card *job.Card) error {
		if c.Cleared {
			return d.enter(card, "codes cleared", &job.CodesCleared{})
		}
		codes, err := job.ReadCodes(card.Layout(), c.Codes)
		if err != nil {
			return badInput(err)
		}
		said := "codes " + job.CodesWords(codes)
		if doubt := card.CodesDoubt(); doubt != "" {
			said += "; " + doubt
		}
		return d.enter(card, said, &job.Coded{Codes: codes})
	})
}
