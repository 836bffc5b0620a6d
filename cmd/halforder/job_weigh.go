package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"halforder/job"
	"halforder/measure/crank"
	"halforder/reason/fault"
)

type jobWeighCmd struct {
	Files []string     `arg:"" type:"existingfile" help:"Recordings of one run of the crank, as for: halforder crank."`
	When  fault.Regime `default:"idle" help:"How the engine ran: any, idle, cold, hot, load, wet."`
	Place string       `help:"Where the signal was tapped."`

	crankSetup `embed:""`
}

func (c *jobWeighCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		regime, err := fault.ParseRegime(string(c.When))
		if err != nil {
			return badInput(err)
		}
		result, seconds, err := c.weigh(card)
		if err != nil {
			return fmt.Errorf("%s: %w", strings.Join(c.Files, ", "), err)
		}
		var bodies []job.Body
		for _, path := range c.Files {
			kept := &job.Recorded{Sensor: "crank", Place: c.Place, Seconds: seconds, Regime: regime}
			if err := d.keep(path, kept); err != nil {
				return err
			}
			bodies = append(bodies, kept)
		}
		first := bodies[0].(*job.Recorded)
		bodies = append(bodies, &job.Found{SHA256: first.SHA256, Finding: result.Finding})
		return d.enter(card, result.Finding.Sentence, bodies...)
	})
}

// weigh analyses the files as one run.
func (c *jobWeighCmd) weigh(card *job.Card) (*crank.Result, float64, error) {
	setup, err := c.setup(card.Layout())
	if err != nil {
		return nil, 0, badInput(err)
	}
	rec, notes, err := c.read(c.Files)
	if err != nil {
		return nil, 0, recordingError{err}
	}
	if err := c.learn(&setup); err != nil {
		return nil, 0, recordingError{err}
	}
	result, err := crank.Analyse(setup, rec)
	if err != nil {
		return nil, 0, recordingError{err}
	}
	result.Finding.Notes = append(notes, result.Finding.Notes...)
	return result, rec.Crank[len(rec.Crank)-1] - rec.Crank[0], nil
}

// keep stores a file's bytes and notes where they are.
func (d desk) keep(path string, r *job.Recorded) error {
	f, err := os.Open(path)
	if err != nil {
		return badInput(err)
	}
	defer f.Close()
	r.Name = filepath.Base(path)
	r.SHA256, r.Bytes, err = d.book.Store.SaveRecording(d, f)
	return err
}
