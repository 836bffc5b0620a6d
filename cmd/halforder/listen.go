package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/report"
)

type listenCmd struct {
	File   string        `arg:"" type:"path" help:"Sound of the running engine: WAV, FLAC or MP3; - for standard input."`
	Engine engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	JSON   bool          `help:"Print as JSON."`
	Plot   string        `type:"path" placeholder:"FILE.svg" help:"Draw what was measured."`
	soundOptions
	togetherOptions
}

func (c *listenCmd) Run(r *run) error {
	h, err := r.hearFile(c.File, c.soundOptions, c.Engine)
	if err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(c.File), err)
	}
	h.Finding, err = r.together(order.Sensed{Sensor: filepath.Base(c.File), Finding: h.Finding}, c.togetherOptions, c.Engine, c.Speed)
	if err != nil {
		return err
	}
	if c.JSON {
		if err := r.plot(filepath.Base(c.File), h.Finding, c.Plot); err != nil {
			return err
		}
		return r.printJSON(h)
	}
	return r.showFinding(filepath.Base(c.File), h.Finding, false, c.Plot)
}

// plot draws a finding's series into a file, if one is named.
func (r *run) plot(name string, f finding.Finding, path string) error {
	if path == "" {
		return nil
	}
	var b bytes.Buffer
	if err := report.Plot(&b, name, f.Series); err != nil {
		return err
	}
	if err := writeFile(path, b.Bytes()); err != nil {
		return fmt.Errorf("plot: %w", err)
	}
	return nil
}

// showFinding draws and prints what a recording showed.
func (r *run) showFinding(name string, f finding.Finding, asJSON bool, plot string) error {
	if err := r.plot(name, f, plot); err != nil {
		return err
	}
	if asJSON {
		return r.printJSON(f)
	}
	return report.FindingText(r.Stdout, f)
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
