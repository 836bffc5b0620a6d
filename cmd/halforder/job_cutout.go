package main

import (
	"halforder/job"
	"halforder/measure/catalyst"
	"halforder/reason/fault"
)

type jobCutoutCmd struct {
	When fault.Regime `default:"idle" help:"How the engine ran: any, idle, cold, hot, load, wet."`

	cutoutInput
}

func (c *jobCutoutCmd) Help() string {
	return `Reads the test, puts what it says on the card, and books its heat in the
catalysts (see: halforder job catalyst), as if it had ended just now. Say --means:
without it fuel is taken to have burnt in the catalyst.`
}

func (c *jobCutoutCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		regime, err := fault.ParseRegime(string(c.When))
		if err != nil {
			return badInput(err)
		}
		rec, result, err := c.analyse(r, card.Layout())
		if err != nil {
			return err
		}
		kept := &job.Recorded{Sensor: "cut-out test", Regime: regime}
		if err := d.keep(c.File, kept); err != nil {
			return err
		}
		f := result.Finding()
		bodies := []job.Body{kept, &job.Found{SHA256: kept.SHA256, Finding: f}}
		if steps := result.Heat(d.Now(), rec.Means); len(steps) > 0 {
			bodies = append(bodies, &job.Heated{Setting: catalyst.Careful, Steps: steps})
		}
		return d.enter(card, f.Sentence, bodies...)
	})
}
