package main

import (
	"halforder/job"
	"halforder/reason/fault"
)

type jobCutoutCmd struct {
	When fault.Regime `default:"idle" help:"How the engine ran: any, idle, cold, hot, load, wet."`

	cutoutInput
}

func (c *jobCutoutCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		regime, err := fault.ParseRegime(string(c.When))
		if err != nil {
			return badInput(err)
		}
		result, err := c.analyse(r, card.Layout())
		if err != nil {
			return err
		}
		kept := &job.Recorded{Sensor: "cut-out test", Regime: regime}
		if err := d.keep(c.File, kept); err != nil {
			return err
		}
		f := result.Finding()
		return d.enter(card, f.Sentence, kept, &job.Found{SHA256: kept.SHA256, Finding: f})
	})
}
