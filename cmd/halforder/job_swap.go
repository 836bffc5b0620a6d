package main

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// watching is what was seen after a swap, shared by swap and watch.
type watching struct {
	Was    string        `enum:",present,absent" default:"" help:"Was the miss there before the swap: present, absent."`
	Before time.Duration `placeholder:"TIME" help:"How long it was watched before, such as 30s."`
	After  time.Duration `placeholder:"TIME" help:"How long it was watched after."`
	When   fault.Regime  `default:"any" help:"How the engine ran: any, idle, cold, hot, load, wet."`
}

func (w watching) body(swap int64, outcome belief.Follow) (*job.SwapWatched, error) {
	if !slices.Contains(belief.FollowValues(), outcome) {
		return nil, fmt.Errorf("unknown outcome %q of a swap: use one of follows, stays, vanishes, both", outcome)
	}
	regime, err := fault.ParseRegime(string(w.When))
	return &job.SwapWatched{Swap: swap, Outcome: outcome, Before: belief.Presence(w.Was),
		BeforeS: w.Before.Seconds(), AfterS: w.After.Seconds(), Regime: regime}, err
}

type jobSwapCmd struct {
	Part    fault.PartKind   `arg:"" help:"Kind of part: coil, plug, boot, lead, injector."`
	From    int              `arg:"" help:"Cylinder that misses."`
	To      int              `arg:"" help:"Cylinder it goes to: a strong one, neither neighbour nor companion."`
	Outcome belief.Follow    `arg:"" optional:"" help:"What the miss did: follows, stays, vanishes, both."`
	With    []fault.PartKind `help:"Kinds of part that went along, such as the boot with its coil."`
	Minutes float64          `help:"Working time."`
	watching
}

func (c *jobSwapCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		part, err := fault.ParsePartKind(string(c.Part))
		if err != nil {
			return badInput(err)
		}
		a, b := engine.Cylinder(c.From), engine.Cylinder(c.To)
		bodies := []job.Body{&job.Swapped{Part: part, Along: c.With, A: a, B: b, Minutes: c.Minutes}}
		words := fmt.Sprintf("%ss of %d and %d swapped", part, a, b)
		if c.Outcome != "" {
			watched, err := c.body(card.Last+1, c.Outcome)
			if err != nil {
				return badInput(err)
			}
			bodies = append(bodies, watched)
			words += ": the miss " + followWords(c.Outcome, a, b)
		}
		return d.enter(card, words, bodies...)
	})
}

func followWords(f belief.Follow, a, b engine.Cylinder) string {
	switch f {
	case belief.Follows:
		return fmt.Sprintf("follows the part to %d", b)
	case belief.Stays:
		return fmt.Sprintf("stays at %d", a)
	case belief.Vanishes:
		return "vanished"
	}
	return fmt.Sprintf("is at %d and %d, or elsewhere", a, b)
}

type jobWatchCmd struct {
	Outcome belief.Follow `arg:"" help:"What the miss did: follows, stays, vanishes, both."`
	Swap    int64         `placeholder:"ENTRY" help:"Which swap; the last one when left out."`
	watching
}

func (c *jobWatchCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		swap, err := c.swap(card)
		if err != nil {
			return badInput(err)
		}
		watched, err := c.body(swap.Seq, c.Outcome)
		if err != nil {
			return badInput(err)
		}
		return d.enter(card, "the miss "+followWords(c.Outcome, swap.What.A, swap.What.B), watched)
	})
}

func (c *jobWatchCmd) swap(card *job.Card) (job.Swap, error) {
	if len(card.Swaps) == 0 {
		return job.Swap{}, errors.New("nothing has been swapped on this job")
	}
	if c.Swap == 0 {
		return card.Swaps[len(card.Swaps)-1], nil
	}
	for _, s := range card.Swaps {
		if s.Seq == c.Swap {
			return s, nil
		}
	}
	return job.Swap{}, fmt.Errorf("entry %d is no swap", c.Swap)
}
