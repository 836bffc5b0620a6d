package main

import (
	"fmt"
	"strings"

	"halforder/job"
)

type jobCloseCmd struct {
	Cause string `help:"What it was in the end, in words or as a cause of the list, such as coil."`
	Words string `help:"A remark."`
}

func (c *jobCloseCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		_, proven := card.Proven()
		b, _ := d.belief(card) // a job whose entries contradict each other can be closed all the same
		closed := card.Close(d.catalogue, b, c.Cause, c.Words)
		if err := d.enter(card, "closed", closed); err != nil {
			return err
		}
		if cause, err := d.catalogue.Cause(closed.Code); err == nil {
			fmt.Fprintf(r.Stdout, "learned for later jobs: it was %s (if not: undo, and close with --cause)\n", cause.Title)
		}
		if len(card.Repairs) > 0 && !proven {
			fmt.Fprintln(r.Stdout, "closed without proof of the repair; the report says so")
		}
		if len(card.Codes) > 0 {
			fmt.Fprintf(r.Stdout, "codes to clear: %s\nclearing resets readiness: an inspection soon after may be refused\n", strings.Join(card.Codes, " "))
		}
		return nil
	})
}
