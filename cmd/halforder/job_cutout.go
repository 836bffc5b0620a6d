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
		test, result, err := c.analyse(r, card.Layout())
		if err != nil {
			return err
		}
		var bodies []job.Body
		for _, path := range append([]string{c.File}, c.With...) {
			kept := &job.Recorded{Sensor: "cut-out test", Regime: regime}
			if err := d.keep(path, kept); err != nil {
				return err
			}
			bodies = append(bodies, kept)
		}
		f := result.Finding()
		bodies = append(bodies, &job.Found{SHA256: bodies[0].(*job.Recorded).SHA256, Finding: f})
		if steps := result.Heat(d.Now(), test.Means); len(steps) > 0 {
			bodies = append(bodies, &job.Heated{Setting: catalyst.Careful, Steps: steps})
		}
		return d.enter(card, f.Sentence, bodies...)
	})
}
