package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"halforder/job"
	"halforder/reason/fault"
	"halforder/report"
)

type jobProveCmd struct {
	File      string        `arg:"" optional:"" type:"existingfile" help:"Sound from after the repair: WAV, FLAC or MP3."`
	Watched   time.Duration `placeholder:"TIME" help:"Without a recording: how long it was watched, such as 10m."`
	Misses    int           `help:"How often it missed meanwhile; of stretches: in how many of them."`
	Stretches int           `placeholder:"COUNT" help:"It was watched in so many stretches, each as long as --watched: ends as early as the count allows."`
	recordingArgs
}

func (c *jobProveCmd) Help() string {
	return `A repair is proven by the same measure before and after it, in the condition of
the complaint, for long enough. Give a recording, or say how long you watched.

What comes now and then is proven piece by piece: drive stretches of about the time
between two misses, and enter after each how many there were and in how many it
missed. The answer is proven, not repaired, or how many more are needed.`
}

func (c *jobProveCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		watch, bodies, err := c.watch(d, card)
		if err != nil {
			return err
		}
		proved, err := card.Prove(d.catalogue, watch)
		if err != nil {
			return badInput(err)
		}
		verdict := "not proven: "
		if proved.Proven {
			verdict = "proven, " + report.Percent(proved.Confidence) + " sure: "
		}
		return d.enter(card, verdict+proved.Why, append(bodies, proved)...)
	})
}

// watch is what was seen, and the recording to enter with it.
func (c *jobProveCmd) watch(d desk, card *job.Card) (job.Watch, []job.Body, error) {
	if (c.File == "") == (c.Watched <= 0) || c.Misses < 0 || c.Stretches < 0 || c.File != "" && c.Stretches > 0 {
		return job.Watch{}, nil, badInput(errors.New("give a recording, or how long you watched with --watched 10m"))
	}
	if c.File == "" {
		regime, err := fault.ParseRegime(string(c.When))
		return job.Watch{Regime: regime, WatchedS: c.Watched.Seconds() * float64(max(c.Stretches, 1)), Misses: c.Misses, Stretches: c.Stretches}, nil, badInput(err)
	}
	recorded, found, err := d.takeIn(card, c.File, c.recordingArgs)
	if err != nil {
		return job.Watch{}, nil, fmt.Errorf("%s: %w", filepath.Base(c.File), err)
	}
	if before, ok := card.Recording(recorded.SHA256); ok {
		if before.Seq < lastRepair(card) {
			return job.Watch{}, nil, badInput(fmt.Errorf("%s is from before the repair, entry %d: record the engine as it runs now", recorded.Name, before.Seq))
		}
		return job.Watch{Regime: before.What.Regime, WatchedS: before.What.Seconds, Misses: c.Misses, After: &before.What, Finding: &found.Finding}, nil, nil
	}
	return job.Watch{Regime: recorded.Regime, WatchedS: recorded.Seconds, Misses: c.Misses, After: recorded, Finding: &found.Finding},
		[]job.Body{recorded, found}, nil
}

// lastRepair is the number of the last repair on a card, 0 for none.
func lastRepair(card *job.Card) int64 {
	if n := len(card.Repairs); n > 0 {
		return card.Repairs[n-1].Seq
	}
	return 0
}
