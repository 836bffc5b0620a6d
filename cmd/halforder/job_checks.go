package main

import (
	"fmt"
	"strings"

	"halforder/job"
	"halforder/reason/fault"
)

type jobChecksCmd struct {
	JSON bool `help:"Print as JSON."`
}

type checkLine struct {
	Check    string   `json:"check"`
	Title    string   `json:"title"`
	Asks     string   `json:"asks"`
	Scope    string   `json:"scope"`
	Outcomes []string `json:"outcomes"`
	Unit     string   `json:"unit,omitempty"` // base unit where it can be typed as a number
}

func (c *jobChecksCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		lines := checkLines(d.catalogue, card)
		if c.JSON {
			return r.printJSON(lines)
		}
		for _, l := range lines {
			outcomes := strings.Join(l.Outcomes, ", ")
			if l.Unit != "" {
				outcomes += ", or a value in " + l.Unit
			}
			fmt.Fprintf(r.Stdout, "%-20s %s\n%20s %s\n", l.Check, l.Title, "", outcomes)
		}
		return nil
	})
}

// checkLines lists the checks this car can have.
func checkLines(cat *fault.Catalogue, card *job.Card) []checkLine {
	var out []checkLine
	for _, k := range cat.Checks() {
		if k.Swaps != "" || !k.Fits(card.Opened.Ignition, card.Opened.Injection) {
			continue
		}
		line := checkLine{Check: k.Code, Title: k.Title, Asks: k.Asks, Scope: string(k.Scope), Outcomes: k.OutcomeCodes()}
		if gauge, ok := cat.Measured(k.Code); ok {
			line.Unit = gauge.Unit
		}
		out = append(out, line)
	}
	return out
}
