package main

import (
	"fmt"
	"path/filepath"

	"halforder/finding"
	"halforder/job"
	"halforder/measure/order"
	"halforder/reason/fault"
)

// recordingArgs say what a recording is and how the engine ran.
type recordingArgs struct {
	Place string       `help:"Where it was taken: tailpipe, bonnet, passenger seat …"`
	When  fault.Regime `default:"idle" help:"How the engine ran: any, idle, cold, hot, load, wet."`
	soundOptions
}

type jobAddCmd struct {
	File string `arg:"" type:"existingfile" help:"Sound of the running engine (WAV, FLAC or MP3), or a table of the motion of a sensor on it."`
	recordingArgs
	togetherOptions
}

func (c *jobAddCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		bodies, f, err := d.takeTogether(card, append([]string{c.File}, c.With...), c.recordingArgs)
		if err != nil {
			return err
		}
		return d.enter(card, f.Sentence, bodies...)
	})
}

// takeTogether takes in recordings of several sensors at the same time: each is
// kept, and what they say together goes on the card once.
func (d desk) takeTogether(card *job.Card, paths []string, a recordingArgs) (bodies []job.Body, f finding.Finding, err error) {
	var sensed []order.Sensed
	for i, path := range paths {
		if i == 1 {
			a.soundOptions = soundOptions{Speed: a.Speed} // the others are of the first
		}
		recorded, found, err := d.takeIn(card, path, a)
		if err != nil {
			return nil, f, fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
		bodies = append(bodies, recorded)
		sensed = append(sensed, order.Sensed{Sensor: distinctName(path, sensed), Finding: found.Finding})
	}
	if f, err = fused(card.Layout(), sensed); err != nil {
		return nil, f, err
	}
	return append(bodies, &job.Found{SHA256: bodies[0].(*job.Recorded).SHA256, Finding: f}), f, nil
}

// takeIn analyses a recording and keeps its bytes in the store, in that order:
// what cannot be used is not kept.
func (d desk) takeIn(card *job.Card, path string, a recordingArgs) (*job.Recorded, *job.Found, error) {
	regime, err := fault.ParseRegime(string(a.When))
	if err != nil {
		return nil, nil, badInput(err)
	}
	h, err := d.sense(path, a.soundOptions, card.Layout())
	if err != nil {
		return nil, nil, err
	}
	kept := &job.Recorded{Sensor: sensorOf(path), Place: a.Place, RateHz: h.RateHz, Seconds: h.Seconds, Regime: regime}
	if err := d.keep(path, kept); err != nil {
		return nil, nil, err
	}
	return kept, &job.Found{SHA256: kept.SHA256, Finding: h.Finding}, nil
}
