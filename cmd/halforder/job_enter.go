package main

import (
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

type jobEnterCmd struct {
	Check   string       `arg:"" help:"The check done (see: halforder job checks)."`
	Results []string     `arg:"" help:"What it gave: an outcome or a value with its unit, after the cylinders it belongs to."`
	When    fault.Regime `default:"any" help:"How the engine ran: any, idle, cold, hot, load, wet."`
	Miss    string       `enum:",present,absent" default:"" help:"Was the miss there at the time: present, absent."`
	Words   string       `help:"A remark."`
	spent
}

func (c *jobEnterCmd) Help() string {
	return `  halforder job enter cut 3=none
  halforder job enter cut 1,2,4,5,6=normal
  halforder job enter compression 1=11.8bar 2=11.6bar 3=7.2bar 4=11.7bar 5=11.9bar 6=11.5bar
  halforder job enter trims 14%/2%`
}

func (c *jobEnterCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		entered, err := c.entered(card, d.catalogue)
		if err != nil {
			return badInput(err)
		}
		return d.enter(card, entered.Check+": "+entered.Describe(d.catalogue, card.Layout()), entered)
	})
}

func (c *jobEnterCmd) entered(card *job.Card, cat *fault.Catalogue) (*job.Entered, error) {
	regime, err := fault.ParseRegime(string(c.When))
	if err != nil {
		return nil, err
	}
	cash, err := c.cents()
	if err != nil {
		return nil, err
	}
	results, err := card.ReadResults(cat, c.Check, c.Results)
	return &job.Entered{Check: c.Check, Results: results, Regime: regime, Miss: belief.Presence(c.Miss),
		Minutes: c.Minutes, Cash: cash, Words: c.Words}, err
}
