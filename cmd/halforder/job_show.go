package main

import (
	"bytes"
	"encoding/json"
	"fmt"

	"halforder/job"
	"halforder/reason/belief"
	"halforder/report"
)

type jobShowCmd struct {
	JSON    bool `help:"Print as JSON."`
	Entries bool `help:"List every entry instead, those taken back too."`
}

func (c *jobShowCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		if c.Entries {
			return d.listEntries(card, c.JSON)
		}
		model, err := d.report(card)
		if err != nil {
			return err
		}
		if c.JSON {
			return r.printJSON(model)
		}
		return report.Text(r.Stdout, model)
	})
}

// report makes the report of a card, with the belief from its evidence.
func (d desk) report(card *job.Card) (report.Report, error) {
	b, err := d.belief(card)
	if err != nil {
		return report.Report{}, err
	}
	suggestions, err := card.Next(b, 0, 1)
	if err != nil {
		return report.Report{}, badInput(err)
	}
	return report.New(report.Job{Card: card, Catalogue: d.catalogue, Learned: d.learned, Belief: b, Next: report.Steps(suggestions)}), nil
}

// belief is what the card's evidence says; entries that contradict each other
// are a fault of the input.
func (d desk) belief(card *job.Card) (*belief.Belief, error) {
	b, err := card.BeliefOf(d.catalogue, d.faults)
	return b, badInput(err)
}

func (d desk) listEntries(card *job.Card, asJSON bool) error {
	for _, e := range card.History() {
		data, err := job.EncodeEvent(e)
		if err != nil {
			return err
		}
		if asJSON {
			fmt.Fprintf(d.Stdout, "%s\n", data)
			continue
		}
		if err := d.printEntry(card, e, data); err != nil {
			return err
		}
	}
	return nil
}

func (d desk) printEntry(card *job.Card, e job.Event, data []byte) error {
	var wire struct {
		Kind string
		Body json.RawMessage
	}
	if err := json.Unmarshal(data, &wire); err != nil {
		return err
	}
	mark := " "
	if !card.Active(e.Seq) && wire.Kind != "undone" {
		mark = "-" // taken back
	}
	const room = 120
	body := bytes.TrimSpace(wire.Body)
	if len(body) > room {
		body = append(body[:room:room], "…"...)
	}
	_, err := fmt.Fprintf(d.Stdout, "%s%3d  %s  %-13s %s\n", mark, e.Seq, e.At.Local().Format("2006-01-02 15:04"), wire.Kind, body)
	return err
}
