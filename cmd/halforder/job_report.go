package main

import (
	"bytes"
	"fmt"

	"halforder/job"
	"halforder/report"
)

type jobReportCmd struct {
	HTML string `type:"path" placeholder:"FILE" help:"Write one HTML page, for screen and paper."`
	Text string `type:"path" placeholder:"FILE" help:"Write plain text."`
}

func (c *jobReportCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		model, err := d.report(card)
		if err != nil {
			return err
		}
		if c.HTML == "" && c.Text == "" {
			return report.Text(r.Stdout, model)
		}
		for _, out := range []struct {
			path   string
			render func(*bytes.Buffer) error
		}{
			{c.HTML, func(b *bytes.Buffer) error { return report.HTML(b, model) }},
			{c.Text, func(b *bytes.Buffer) error { return report.Text(b, model) }},
		} {
			if out.path == "" {
				continue
			}
			var b bytes.Buffer
			if err := out.render(&b); err != nil {
				return err
			}
			if err := writeFile(out.path, b.Bytes()); err != nil {
				return fmt.Errorf("report: %w", err)
			}
			fmt.Fprintln(r.Stderr, "written:", shown(out.path))
		}
		return nil
	})
}
