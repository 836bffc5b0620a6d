package main

import (
	"errors"
	"fmt"
	"strings"

	"halforder/job"
	"halforder/measure/catalyst"
	"halforder/reason/fault"
)

// onCard plays the session for a job: its engine, its catalyst books, its card.
func (c *cutoutPracticeCmd) onCard(r *run) error {
	g := jobCmd{Number: c.Job}
	return g.withCard(r, func(d desk, card *job.Card) error {
		c.Engine = card.Layout()
		from := d.Now()
		books, err := card.Catalyst(from, catalyst.Careful)
		if err != nil {
			return err
		}
		s, err := c.session(r, books, from)
		if s == nil {
			return err
		}
		return errors.Join(err, d.keepSession(card, s)) // the heat counts even where the test cannot be read
	})
}

// keepSession puts a session on the card: the speed as a table, what it says,
// and the heat. A session without a cut leaves its heat only.
func (d desk) keepSession(card *job.Card, s *session) error {
	heat := &job.Heated{Setting: s.budget.Ledger.Setting, Steps: s.budget.Steps}
	if len(s.result.Cuts) == 0 {
		return d.enter(card, "no cut", heat)
	}
	var b strings.Builder
	b.WriteString("time_s,rpm\n")
	for i, t := range s.rec.Speed.T {
		fmt.Fprintf(&b, "%.3f,%.2f\n", t, s.rec.Speed.Y[i])
	}
	kept := &job.Recorded{Name: "cut-out session.csv", Sensor: "practised cut-out test", Seconds: s.now, Regime: fault.Idle}
	var err error
	if kept.SHA256, kept.Bytes, err = d.book.Store.SaveRecording(d, strings.NewReader(b.String())); err != nil {
		return err
	}
	f := s.result.Finding()
	return d.enter(card, f.Sentence, kept, &job.Found{SHA256: kept.SHA256, Finding: f}, heat)
}
