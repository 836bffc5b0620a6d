package main

import (
	"bytes"
	"fmt"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/crank"
	"halforder/report"
)

// crankSetup says what wheel was recorded and what names its cylinders.
type crankSetup struct {
	Wheel string `default:"auto" placeholder:"WHEEL" help:"Crank wheel: 60-2, 36-2-1, 24, 4u (four uneven marks, learnt), 4@0-70-180-250, auto."`
	CamAt string `placeholder:"CYL:DEG" help:"Cylinder CYL is at firing top dead centre DEG crank degrees after the first cam edge after the longest quiet stretch."`
	GapAt string `placeholder:"CYL:DEG" help:"The same, counted from the first tooth after the wheel's gap."`
	Cut   string `placeholder:"CYL:FILE" help:"A recording in which just that cylinder was cut: names all others."`

	crankPick `embed:""`
}

type crankCmd struct {
	Files  []string      `arg:"" type:"existingfile" help:"Recordings of one run: edge list, table (CSV) or trace; several files share one clock."`
	Engine engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`

	crankSetup `embed:""`

	Cranking bool   `help:"The starter turns the engine, no fuel: relative compression from crank speed."`
	Starter  string `placeholder:"COLUMN" help:"The same from the starter's current in this column or channel of the recording."`
	JSON     bool   `help:"Print as JSON."`
	Plot     string `placeholder:"FILE" help:"Write the plots to FILE as SVG."`
}

func (c *crankCmd) Help() string {
	return `Weighs every firing by the speed of the crank and counts the misses.

  halforder crank idle.txt --engine i4
  halforder crank idle.csv --engine i6 --wheel 60-2 --cam-at 1:78 --plot idle.svg
  halforder crank marks.csv events.csv --engine vtwin-60 --wheel 6 --cam front_injector_on
  halforder crank idle.txt --engine i4 --cut 2:cut2.txt
  halforder crank cranking.csv --engine i4 --cranking
  halforder crank clamp.csv --engine i4 --starter amps --cam cam_V --cam-at 1:300

A cylinder is named by the cam edge, by the wheel's gap, by one recorded cut, or
by a wheel in the built-in table; without any of these only the pattern is given.`
}

type crankJSON struct {
	Finding finding.Finding   `json:"finding"`
	Wheel   string            `json:"wheel"`
	MarkDeg []float64         `json:"wheel_mark_deg"`
	CamDeg  []float64         `json:"cam_edge_deg"`
	Dead    []engine.Cylinder `json:"dead_cylinders"`
	Missing []engine.Cylinder `json:"missing_cylinders"`
	Misses  []crankMissJSON   `json:"misses"`
}

type crankMissJSON struct {
	Seconds  float64 `json:"s"`
	Cylinder string  `json:"cylinder"`
	Work     float64 `json:"work"`
}

func (c *crankCmd) Run(r *run) error {
	setup, err := c.setup(c.Engine)
	if err != nil {
		return badInput(err)
	}
	if c.Starter != "" {
		return c.current(r, setup)
	}
	rec, notes, err := c.crankPick.read(c.Files)
	if err != nil {
		return recordingError{err}
	}
	if err := c.learn(&setup); err != nil {
		return recordingError{err}
	}
	if c.Cranking {
		result, err := crank.Cranking(setup, rec)
		return c.compression(r, result, notes, err)
	}
	result, err := crank.Analyse(setup, rec)
	if err != nil {
		return c.unusable(err)
	}
	result.Finding.Notes = append(notes, result.Finding.Notes...)
	return c.show(r, result.Finding, crankReport(result))
}

func (c *crankCmd) unusable(err error) error {
	return recordingError{fmt.Errorf("%s: %w", strings.Join(c.Files, ", "), err)}
}

// show prints a finding and draws it.
func (c *crankCmd) show(r *run, f finding.Finding, asJSON any) error {
	if err := c.plot(f); err != nil {
		return err
	}
	if c.JSON {
		return r.printJSON(asJSON)
	}
	return report.FindingText(r.Stdout, f)
}

// current reads relative compression from the starter's current.
func (c *crankCmd) current(r *run, setup crank.Setup) error {
	cur, err := c.crankPick.readStarter(c.Files, c.Starter)
	if err != nil {
		return recordingError{err}
	}
	result, err := crank.StarterCompression(setup, cur)
	return c.compression(r, result, nil, err)
}

type compressionJSON struct {
	Finding  finding.Finding   `json:"finding"`
	Relative []float64         `json:"relative_in_firing_order"`
	Lost     []engine.Cylinder `json:"lost_cylinders"`
	Weak     []engine.Cylinder `json:"weak_cylinders"`
}

func (c *crankCmd) compression(r *run, result *crank.Compression, notes []string, err error) error {
	if err != nil {
		return c.unusable(err)
	}
	result.Finding.Notes = append(notes, result.Finding.Notes...)
	return c.show(r, result.Finding, compressionJSON{result.Finding, result.Relative, result.Lost, result.Weak})
}

func crankReport(result *crank.Result) crankJSON {
	out := crankJSON{Finding: result.Finding, Wheel: result.Wheel.String(), MarkDeg: result.Wheel.Angles,
		CamDeg: result.Cam, Dead: result.Dead(), Missing: result.Missing(), Misses: []crankMissJSON{}}
	for _, m := range result.Misses {
		out.Misses = append(out.Misses, crankMissJSON{m.Seconds, m.Label, m.Work})
	}
	return out
}

func (c *crankSetup) setup(layout engine.Layout) (crank.Setup, error) {
	wheel, err := crank.ParseWheel(c.Wheel)
	if err != nil {
		return crank.Setup{}, err
	}
	s := crank.Setup{Layout: layout, Wheel: wheel}
	for _, ref := range []struct {
		text string
		from crank.Origin
	}{{c.CamAt, crank.FromCam}, {c.GapAt, crank.FromGap}} {
		if ref.text == "" {
			continue
		}
		r, err := crank.ParseReference(ref.text, ref.from)
		if err == nil {
			err = layout.Check(r.Cylinder)
		}
		if err != nil {
			return s, err
		}
		s.References = append(s.References, r)
	}
	return s, nil
}

// learn adds the reference that a recording with one known cut gives.
func (c *crankSetup) learn(s *crank.Setup) error {
	if c.Cut == "" {
		return nil
	}
	cylinder, file, ok := strings.Cut(c.Cut, ":")
	var cut engine.Cylinder
	if n, err := fmt.Sscan(cylinder, &cut); !ok || n != 1 || err != nil {
		return fmt.Errorf("--cut %q: expected CYLINDER:FILE, such as 2:cut2.txt", c.Cut)
	}
	rec, _, err := c.crankPick.read([]string{file})
	if err != nil {
		return err
	}
	ref, err := crank.LearnReference(*s, rec, cut)
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	s.References = append(s.References, ref)
	return nil
}

func (c *crankCmd) plot(f finding.Finding) error {
	if c.Plot == "" {
		return nil
	}
	var b bytes.Buffer
	if err := report.Plot(&b, f.Sentence, f.Series); err != nil {
		return err
	}
	return writeFile(c.Plot, b.Bytes())
}
