package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"halforder/engine"
	"halforder/report"
)

type listenCmd struct {
	File   string        `arg:"" type:"path" help:"Sound of the running engine, a WAV file; - for standard input."`
	Engine engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	JSON   bool          `help:"Print as JSON."`
	Plot   string        `type:"path" placeholder:"FILE.svg" help:"Draw what was measured."`
	soundOptions
}

func (c *listenCmd) Run(r *run) error {
	h, err := r.hearFile(c.File, c.soundOptions, c.Engine)
	if err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(c.File), err)
	}
	if c.Plot != "" {
		var b bytes.Buffer
		if err := report.Plot(&b, filepath.Base(c.File), h.Finding.Series); err != nil {
			return err
		}
		if err := writeFile(c.Plot, b.Bytes()); err != nil {
			return fmt.Errorf("plot: %w", err)
		}
	}
	if c.JSON {
		return r.printJSON(h)
	}
	fmt.Fprintln(r.Stdout, h.Finding.Sentence)
	for _, q := range h.Finding.Quantities {
		fmt.Fprintln(r.Stdout, "  "+report.QuantityText(q))
	}
	for _, n := range h.Finding.Notes {
		fmt.Fprintln(r.Stdout, "  "+n)
	}
	return nil
}

// hearFile opens a file, or standard input for "-", and listens to it.
func (r *run) hearFile(path string, o soundOptions, layout engine.Layout) (heard, error) {
	if path == "-" {
		return o.hear(r.Stdin, layout, r.progress())
	}
	f, err := os.Open(path)
	if err != nil {
		return heard{}, badInput(err)
	}
	defer f.Close()
	return o.hear(f, layout, r.progress())
}

// progress reports on standard error how much was heard, every few seconds of
// work.
func (r *run) progress() func(float64) {
	const every = 2 * time.Second
	last := r.Now()
	return func(seconds float64) {
		if now := r.Now(); now.Sub(last) >= every {
			last = now
			fmt.Fprintf(r.Stderr, "heard %.0f min\n", seconds/60)
		}
	}
}
