package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/reader/table"
)

type feelCmd struct {
	File   string        `arg:"" type:"path" help:"Motion of a phone or sensor on the engine: a table with a time column and three of acceleration; - for standard input."`
	Engine engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	JSON   bool          `help:"Print as JSON."`
	Plot   string        `type:"path" placeholder:"FILE.svg" help:"Draw what was measured."`
	Speed  engine.RPM    `placeholder:"RPM" help:"Engine speed if known; never needed."`
	Time   string        `placeholder:"COLUMN" help:"Column of the time; the one that looks like it when left out."`
	Unit   string        `placeholder:"UNIT" help:"Unit of the time: s, ms, us or ns; from the column's name when left out."`
	Axes   []string      `placeholder:"COLUMN" help:"The three columns of acceleration; the first three others when left out."`
}

func (c *feelCmd) Run(r *run) error {
	f, err := c.feel(r)
	if err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(c.File), err)
	}
	return r.showFinding(filepath.Base(c.File), f, c.JSON, c.Plot)
}

func (c *feelCmd) feel(r *run) (finding.Finding, error) {
	src, err := r.open(c.File)
	if err != nil {
		return finding.Finding{}, err
	}
	defer src.Close()
	shakes, err := c.read(src)
	if err != nil {
		return finding.Finding{}, recordingError{err}
	}
	f, err := order.Feel(shakes, order.Config{Layout: c.Engine, Speed: c.Speed})
	if err != nil {
		return f, recordingError{err}
	}
	return f, nil
}

// open opens a file, or standard input for "-".
func (r *run) open(path string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(r.Stdin), nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, badInput(err)
	}
	return f, nil
}

// read picks the columns and leaves out lines with a missing number.
func (c *feelCmd) read(src io.Reader) ([]order.Shake, error) {
	t, err := table.Read(src)
	if err != nil {
		return nil, err
	}
	at, err := c.timeColumn(t)
	if err != nil {
		return nil, err
	}
	times, err := at.Times(c.Unit)
	if err != nil {
		return nil, err
	}
	axes, err := c.axes(t, at.Name)
	if err != nil {
		return nil, err
	}
	var out []order.Shake
	for i, s := range times {
		one := order.Shake{Seconds: s}
		whole := s == s // not NaN
		for k, a := range axes {
			one.Axes[k] = a.Numbers[i]
			whole = whole && a.Numbers[i] == a.Numbers[i]
		}
		if whole {
			out = append(out, one)
		}
	}
	return out, nil
}

func (c *feelCmd) timeColumn(t *table.Table) (table.Column, error) {
	if c.Time != "" {
		return t.Column(c.Time)
	}
	return t.TimeColumn()
}

func (c *feelCmd) axes(t *table.Table, time string) ([]table.Column, error) {
	var out []table.Column
	for _, name := range c.Axes {
		column, err := t.Column(name)
		if err != nil {
			return nil, err
		}
		out = append(out, column)
	}
	if len(c.Axes) == 0 {
		for _, column := range t.Columns {
			if column.Name != time && column.Numbers != nil && len(out) < 3 {
				out = append(out, column)
			}
		}
	}
	if len(out) != 3 {
		return nil, fmt.Errorf("%d columns of acceleration, expected three: name them with --axes x,y,z", len(out))
	}
	for _, column := range out {
		if column.Numbers == nil {
			return nil, fmt.Errorf("column %q holds no numbers", column.Name)
		}
	}
	return out, nil
}
