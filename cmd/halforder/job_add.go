package main

import (
	"fmt"
	"path/filepath"

	"halforder/job"
	"halforder/reason/fault"
)

// recordingArgs say what a recording is and how the engine ran.
type recordingArgs struct {
	Place string       `help:"Where it was taken: tailpipe, bonnet, passenger seat …"`
	When  fault.Regime `default:"idle" help:"How the engine ran: any, idle, cold, hot, load, wet."`
	soundOptions
}

type jobAddCmd struct {
	File string `arg:"" type:"existingfile" help:"Sound of the running engine, a WAV file."`
	recordingArgs
}

func (c *jobAddCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		recorded, found, err := d.takeIn(card, c.File, c.recordingArgs)
		if err != nil {
			return fmt.Errorf("%s: %w", filepath.Base(c.File), err)
		}
		return d.enter(card, found.Finding.Sentence, recorded, found)
	})
}

// takeIn analyses a recording and keeps its bytes in the store, in that order:
// what cannot be used is not kept.
func (d desk) takeIn(card *job.Card, path string, a recordingArgs) (*job.Recorded, *job.Found, error) {
	regime, err := fault.ParseRegime(string(a.When))
	if err != nil {
		return nil, nil, badInput(err)
	}
	h, err := d.hearFile(path, a.soundOptions, card.Layout())
	if err != nil {
		return nil, nil, err
	}
	kept := &job.Recorded{Sensor: "sound", Place: a.Place, RateHz: h.RateHz, Seconds: h.Seconds, Regime: regime}
	if err := d.keep(path, kept); err != nil {
		return nil, nil, err
	}
	return kept, &job.Found{SHA256: kept.SHA256, Finding: h.Finding}, nil
}
