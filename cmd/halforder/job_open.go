package main

import (
	"fmt"
	"time"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
	"halforder/report"
)

type jobOpenCmd struct {
	Car       string          `arg:"" help:"The car, as the workshop calls it."`
	Engine    engine.Layout   `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	Ignition  fault.Ignition  `default:"coil-on-plug" help:"Ignition: coil-on-plug, smart-coil, cassette, near-plug, wasted-spark, distributor, twin-plug."`
	Injection fault.Injection `default:"port" help:"Injection: port, direct, both."`
	Access    fault.Access    `default:"easy" help:"Way to coils and plugs: easy, hard."`
	Hard      []int           `placeholder:"CYLINDERS" help:"Cylinders behind a plenum or the like where the others are easy."`
	Complaint fault.Complaint `default:"rough" help:"Complaint: rough, dead, weak, cold, load, bank, random, pair."`
	When      fault.Regime    `default:"idle" help:"When it shows: any, idle, cold, hot, load, wet."`
	Every     time.Duration   `placeholder:"TIME" help:"Mean time between misses, such as 5m; leave out when it is steady."`
	Lamp      job.Lamp        `enum:",off,steady,flashing" default:"" help:"Engine lamp: off, steady, flashing."`
	Codes     []string        `placeholder:"CODE" help:"Trouble codes read already, such as P0303,P0300, or none."`
	Customer  string          `help:"Customer."`
	Km        int             `help:"Distance driven, in kilometres."`
	Words     string          `help:"The complaint in the customer's words."`
	Hybrid    bool            `help:"The car has a high-voltage drive."`
}

func (c *jobOpenCmd) Run(r *run, g *jobCmd) error {
	opened, err := c.opened()
	if err != nil {
		return badInput(err)
	}
	codes, err := job.ReadCodes(opened.Engine, c.Codes)
	if err != nil {
		return badInput(err)
	}
	return g.withDesk(r, func(d desk) error {
		card, err := d.book.Open(d, d.by, opened)
		if err != nil {
			return badInputIfMisfit(err)
		}
		if codes != nil {
			if _, err := d.book.Add(d, card.ID, d.by, &job.Coded{Codes: codes}); err != nil {
				return err
			}
		}
		fmt.Fprintf(d.Stdout, "job %d: %s, %s\n", card.ID, card.Opened.Car, card.Layout().Title())
		for _, caution := range report.IntakeCautions(opened) {
			fmt.Fprintln(d.Stdout, "CAUTION: "+caution)
		}
		return nil
	})
}

// mostKm is further than cars go.
const mostKm = 5_000_000

func (c *jobOpenCmd) opened() (o job.Opened, err error) {
	if c.Km < 0 || c.Km > mostKm {
		return o, fmt.Errorf("--km %d: give the distance driven, from 0 to %d km", c.Km, mostKm)
	}
	o = job.Opened{Car: c.Car, Customer: c.Customer, Km: c.Km, Engine: c.Engine, Hard: cylinders(c.Hard),
		Words: c.Words, Lamp: c.Lamp, EveryS: c.Every.Seconds(), Hybrid: c.Hybrid}
	for _, parse := range []func() error{
		func() (err error) { o.Ignition, err = fault.ParseIgnition(string(c.Ignition)); return },
		func() (err error) { o.Injection, err = fault.ParseInjection(string(c.Injection)); return },
		func() (err error) { o.Access, err = fault.ParseAccess(string(c.Access)); return },
		func() (err error) { o.Complaint, err = fault.ParseComplaint(string(c.Complaint)); return },
		func() (err error) { o.Regime, err = fault.ParseRegime(string(c.When)); return },
	} {
		if err := parse(); err != nil {
			return o, err
		}
	}
	return o, nil
}

func cylinders(numbers []int) []engine.Cylinder {
	var out []engine.Cylinder
	for _, n := range numbers {
		out = append(out, engine.Cylinder(n))
	}
	return out
}
