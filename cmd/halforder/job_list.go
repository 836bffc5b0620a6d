package main

import (
	"fmt"
	"time"

	"halforder/job"
)

type jobListCmd struct {
	JSON bool `help:"Print as JSON."`
}

type jobLine struct {
	Job    job.ID     `json:"job"`
	Opened time.Time  `json:"opened"`
	Car    string     `json:"car"`
	Engine string     `json:"engine"`
	Status job.Status `json:"status"`
}

func (c *jobListCmd) Run(r *run, g *jobCmd) error {
	return g.withDesk(r, func(d desk) error {
		lines, err := d.lines()
		if err != nil {
			return err
		}
		if c.JSON {
			return r.printJSON(lines)
		}
		if len(lines) == 0 {
			fmt.Fprintln(r.Stdout, "no jobs yet: halforder job open --help")
		}
		for _, l := range lines {
			fmt.Fprintf(r.Stdout, "%4d  %s  %-28s %s\n", l.Job, l.Opened.Format(time.DateOnly), l.Car, l.Status)
		}
		return nil
	})
}

func (d desk) lines() ([]jobLine, error) {
	ids, err := d.book.Store.Jobs(d)
	if err != nil {
		return nil, err
	}
	lines := []jobLine{}
	for _, id := range ids {
		card, err := d.book.Card(d, id)
		if err != nil {
			return nil, err
		}
		lines = append(lines, jobLine{id, card.At.At, card.Opened.Car, card.Layout().String(), card.Status})
	}
	return lines, nil
}
