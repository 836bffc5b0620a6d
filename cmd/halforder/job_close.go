package main

import (
	"fmt"
	"strings"

	"halforder/job"
)

type jobCloseCmd struct {
	Cause string `help:"What it was in the end."`
	Words string `help:"A remark."`
}

func (c *jobCloseCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		_, proven := card.Proven()
		if err := d.enter(card, "closed", &job.Closed{Cause: c.Cause, Words: c.Words}); err != nil {
			return err
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
