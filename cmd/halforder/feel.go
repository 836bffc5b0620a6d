package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/measure/order"
	"halforder/reader/table"
)

type feelCmd struct {
	File   string        `arg:"" type:"path" help:"Motion of a phone or sensor on the engine: a table with a time column and three of acceleration; - for standard input."`
	Engine engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	JSON   bool          `help:"Print as JSON."`
	Plot   string        `type:"path" placeholder:"FILE.svg" help:"Draw what was measured."`
	Speed  engine.RPM    `placeholder:"RPM" help:"Engine speed if known; it settles which of two speeds that share their lines it is."`
	Cut    []order.Cut   `placeholder:"CYL@FROM-TO" help:"A cylinder was cut from one second to another, such as 3@12-17; it names the others."`
	motionColumns
	togetherOptions
}

// motionColumns say which columns of a table hold the motion.
type motionColumns struct {
	Time string   `placeholder:"COLUMN" help:"Column of the time; the one that looks like it when left out."`
	Unit string   `placeholder:"UNIT" help:"Unit of the time: s, ms, us or ns; from the column's name or its steps when left out."`
	Axes []string `placeholder:"COLUMN" help:"The three columns of acceleration; three that end in x, y and z, or the first three others, when left out."`
}

func (c *feelCmd) Help() string {
	return `The sensor may lie on the engine as it likes. 100 samples a second or more are
best; with fewer, orders near half the rate are out of reach, and it is said
which. Take 20 s of plain idle.

Several sensors that recorded the same engine at the same time are joined with
--with: tables of motion, and sound as WAV, FLAC or MP3.

Examples:

  halforder feel phone.csv --engine i4
  halforder feel phone.csv --engine i6 --with sound.wav
  halforder feel phone.csv --engine i4 --unit ms --axes ax,ay,az`
}

func (c *feelCmd) Run(r *run) error {
	name := filepath.Base(c.File)
	felt, err := r.feelFile(c.File, order.Config{Layout: c.Engine, Speed: c.Speed, Cuts: c.Cut}, c.motionColumns)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	f, err := r.together(order.Sensed{Sensor: name, Finding: felt.Finding}, c.togetherOptions, c.Engine, c.Speed)
	if err != nil {
		return err
	}
	return r.showFinding(name, f, c.JSON, c.Plot)
}

// feelFile reads a table of motion and judges it.
func (r *run) feelFile(path string, config order.Config, columns motionColumns) (heard, error) {
	if err := config.Check(); err != nil {
		return heard{}, badInput(err)
	}
	src, err := r.open(path)
	if err != nil {
		return heard{}, err
	}
	defer src.Close()
	shakes, note, err := columns.read(src)
	if err != nil {
		return heard{}, recordingError{err}
	}
	f, err := order.Feel(shakes, config)
	if err != nil {
		return heard{}, recordingError{err}
	}
	if note != "" {
		f.Notes = append(f.Notes, note)
	}
	seconds := math.Abs(shakes[len(shakes)-1].Seconds - shakes[0].Seconds)
	return heard{RateHz: float64(len(shakes)-1) / seconds, Channels: 3, Seconds: seconds, Finding: f}, nil
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

// read picks the columns and leaves out lines with a missing number. The note
// says how the times were taken, if they had to be guessed.
func (c motionColumns) read(src io.Reader) (shakes []order.Shake, note string, err error) {
	t, err := table.Read(src)
	if err != nil {
		return nil, "", err
	}
	times, column, note, err := c.times(t)
	if err != nil {
		return nil, "", err
	}
	axes, err := c.axes(t, column)
	if err != nil {
		return nil, "", err
	}
	for i, s := range times {
		one := order.Shake{Seconds: s}
		whole := true
		for k, a := range axes {
			one.Axes[k] = a.Numbers[i]
			whole = whole && !math.IsNaN(a.Numbers[i])
		}
		if whole {
			shakes = append(shakes, one)
		}
	}
	return shakes, note, nil
}

// likelyUnit guesses the unit of times from their usual step: sensors give 20 to
// 1000 samples a second.
func likelyUnit(times []float64) string {
	var steps []float64
	for i := 1; i < len(times); i++ {
		if step := times[i] - times[i-1]; step > 0 {
			steps = append(steps, step)
		}
	}
	if len(steps) == 0 {
		return "s"
	}
	slices.Sort(steps)
	switch usual := steps[len(steps)/2]; {
	case usual >= 1e6:
		return "ns"
	case usual >= 1e3:
		return "us"
	case usual >= 1:
		return "ms"
	}
	return "s"
}

func (c motionColumns) timeColumn(t *table.Table) (table.Column, error) {
	if c.Time != "" {
		return t.Column(c.Time)
	}
	return t.TimeColumn()
}

func (c motionColumns) axes(t *table.Table, time string) ([]table.Column, error) {
	names := c.Axes
	if len(names) == 0 {
		names = namedAxes(t)
	}
	if len(names) == 0 {
		for _, column := range t.Columns {
			if column.Name != time && column.Numbers != nil && len(names) < 3 {
				names = append(names, column.Name)
			}
		}
	}
	if len(names) != 3 {
		return nil, fmt.Errorf("%d columns of acceleration among %s, expected three: name them with --axes x,y,z (marks of the crank are read by crank and job weigh, engine speed by cutout and job cutout)", len(names), strings.Join(t.Names(), ", "))
	}
	var out []table.Column
	for _, name := range names {
		column, err := t.Column(name)
		if err != nil {
			return nil, err
		}
		if column.Numbers == nil {
			return nil, fmt.Errorf("column %q holds no numbers", column.Name)
		}
		out = append(out, column)
	}
	return out, nil
}

// namedAxes finds three columns whose names differ in x, y and z alone, those of
// acceleration first.
func namedAxes(t *table.Table) []string {
	var found []string
	names := t.Names()
	for _, name := range names {
		for _, x := range []string{"x", "X"} {
			at := strings.LastIndex(name, x)
			if at < 0 {
				continue
			}
			with := func(by byte) string { return name[:at] + string(x[0]+by) + name[at+1:] }
			if !slices.Contains(names, with(1)) || !slices.Contains(names, with(2)) {
				continue
			}
			three := []string{name, with(1), with(2)}
			if strings.Contains(strings.ToLower(name), "acc") {
				return three
			}
			if found == nil {
				found = three
			}
		}
	}
	return found
}
