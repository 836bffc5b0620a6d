package main

import (
	"fmt"

	"halforder/engine"
)

type enginesCmd struct {
	JSON bool `help:"Print as JSON."`
}

func (c *enginesCmd) Help() string {
	return `An engine that is not listed is typed as its firing order, with firing angles
where the intervals are uneven, and sets of cylinders after commas:

  1-5-3-6-2-4
  1-2@0-405
  1-4-2-5-3-6,banks=1-2-3/4-5-6,feeds=1-2-3/4-5-6,drivers=1-4/2-5/3-6`
}

type engineLine struct {
	Name      string            `json:"name"`
	Title     string            `json:"title"`
	Order     []engine.Cylinder `json:"firing_order"`
	AnglesDeg []engine.CrankDeg `json:"firing_angles_deg"`
	Source    string            `json:"source"`
}

func (c *enginesCmd) Run(r *run) error {
	var lines []engineLine
	for _, g := range engine.Generics() {
		l := g.Layout
		lines = append(lines, engineLine{l.String(), l.Title(), l.Order(), l.Angles(), g.Source})
	}
	if c.JSON {
		return r.printJSON(lines)
	}
	for _, l := range lines {
		fmt.Fprintf(r.Stdout, "%-12s %s\n", l.Name, l.Title)
	}
	fmt.Fprintln(r.Stdout, "\nFiring orders differ between makers: confirm on the engine before trusting a name.")
	return nil
}
