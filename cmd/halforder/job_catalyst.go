package main

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/job"
	"halforder/measure/catalyst"
)

type jobCatalystCmd struct {
	Setting string `default:"careful" enum:"careful,plain" help:"careful: twice the heat of the model, half of its cooling; plain: the model as it stands."`
	JSON    bool   `help:"Print as JSON."`
}

func (c *jobCatalystCmd) Help() string {
	return `What cut-out tests on this job did to the catalysts, and what another may do now:
heat and seconds of earlier tests count, cooled since.`
}

// catalystJSON is what --json prints.
type catalystJSON struct {
	Departure string             `json:"departure"`
	Now       catalyst.Standing  `json:"now"`
	Spark     catalyst.Allowance `json:"spark_cut"`
	Injector  catalyst.Allowance `json:"injector_cut"`
	Tests     []string           `json:"tests"`
}

func (c *jobCatalystCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		setting := catalyst.Careful
		if c.Setting == "plain" {
			setting = catalyst.Plain
		}
		out, err := d.catalyst(card, setting)
		if err != nil {
			return err
		}
		if c.JSON {
			return r.printJSON(out)
		}
		for _, t := range out.Tests {
			r.printLine(0, "%s", t)
		}
		printStanding(r, out)
		return nil
	})
}

// catalyst reads the books of a card as they stand now.
func (d desk) catalyst(card *job.Card, s catalyst.Setting) (catalystJSON, error) {
	now := d.Now()
	books, err := card.Catalyst(now, s)
	if err != nil {
		return catalystJSON{}, err
	}
	one := []engine.Cylinder{books.Banks[0].Cylinders[0]}
	out := catalystJSON{Departure: s.Departure(), Now: books.During(now)}
	if out.Spark, err = books.Before(now, catalyst.Condition{Load: catalyst.Idle, NoSpark: one}); err != nil {
		return out, err
	}
	out.Injector, err = books.Before(now, catalyst.Condition{Load: catalyst.Idle, NoFuel: one})
	for _, h := range card.Heats {
		out.Tests = append(out.Tests, fmt.Sprintf("entry %d: %s", h.Seq, h.Words()))
	}
	return out, err
}

func printStanding(r *run, c catalystJSON) {
	for i, rise := range c.Now.RiseK {
		fmt.Fprintf(r.Stdout, "Catalyst of bank %d: %.0f K above its inlet.\n", i+1, rise)
	}
	r.printLine(0, "Coil off: %s", allowed(c.Spark))
	r.printLine(0, "Injector off: %s", allowed(c.Injector))
	r.printLine(0, "%s", c.Departure)
}

// allowed words an allowance.
func allowed(a catalyst.Allowance) string {
	switch {
	case a.WaitSeconds == catalyst.Never:
		return "no more. " + a.Why
	case a.Seconds < 1:
		return fmt.Sprintf("not yet, wait %.0f s. %s", math.Ceil(a.WaitSeconds), a.Why)
	}
	return fmt.Sprintf("up to %.0f s, %.0f s at the most. %s", a.Seconds, a.HardSeconds, a.Why)
}
