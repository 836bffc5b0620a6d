package main

import (
	"bytes"
	"fmt"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/cutout"
	"halforder/report"
)

// cutoutCmd groups the cut-out test: reading one, practising one, how to cut.
type cutoutCmd struct {
	Read     cutoutReadCmd     `cmd:"" default:"withargs" help:"Read a recorded cut-out test: what each cylinder gives. The default."`
	How      cutoutHowCmd      `cmd:"" help:"How to cut a cylinder on this car, safest way first."`
	Practice cutoutPracticeCmd `cmd:"" help:"Be led through a cut-out test on a practice engine, live in the terminal."`
}

// cutoutInput is a recorded test and what is known of it.
type cutoutInput struct {
	File   string   `arg:"" type:"path" help:"Recording: a table (CSV) with engine speed or a phone's acceleration (x, y, z), crank edges, or sound (WAV, FLAC, MP3)."`
	With   []string `type:"path" placeholder:"FILE" help:"Another recording of the same test, to be joined; its clock may be another."`
	Marks  string   `type:"existingfile" placeholder:"FILE" help:"When what was cut: lines such as '12.5 off 3' and '17 on'."`
	Called string   `placeholder:"LIST" help:"What was cut, in order, when nobody pressed a button: 1,2,3,4,4,3,2,1; pairs as 1+4."`
	Means  string   `placeholder:"WAY" help:"How it was cut: injector, injector-off, coil-off, coil-live."`

	cutoutColumns
}

type cutoutReadCmd struct {
	Engine engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	JSON   bool          `help:"Print as JSON."`
	Plot   string        `type:"path" placeholder:"FILE.svg" help:"Draw the time line with the cuts shaded, and the cylinders."`

	cutoutInput
}

func (c *cutoutReadCmd) Help() string {
	return `Finds when each cut began and ended, what changed, and says for each cylinder
works, weak, dead or cannot tell.

  halforder cutout idle.csv --engine i4 --marks cuts.txt
  halforder cutout idle.csv --engine i6 --called 1,2,3,4,5,6,6,5,4,3,2,1 --plot test.svg
  halforder cutout crank_edges.csv --engine i4 --wheel 60-2 --marks cuts.txt
  halforder cutout sound.wav --engine i4 --marks cuts.txt
  halforder cutout sound.wav --engine i4 --with bus.csv --marks cuts.txt

Recordings joined with --with may have been started at other times: the rises and
falls of the speed tell. Marks are on the clock of the first.

Columns are found by their names: a time, engine speed (rpm), and as effort of the
idle control air, throttle or timing; --time, --speed and --effort name others. A
table of lines "seconds,name,value" is understood too. The marks file may also be a
practice script ("12.5 unplug injector 3"). Times may be a second or two off; they
count from the beginning of the recording, or are of the same clock ("14:05:12").`
}

// cutoutJSON is what --json prints.
type cutoutJSON struct {
	Finding   finding.Finding   `json:"finding"`
	IdleRPM   engine.RPM        `json:"idle_rpm"`
	Cuts      []cutout.Cut      `json:"cuts"`
	Cylinders []cutout.Cylinder `json:"cylinders"`
	Sets      []cutout.Set      `json:"sets"`
	Next      cutout.Proposal   `json:"next"`
	Joined    []joinedFile      `json:"joined,omitempty"`
}

func (c *cutoutReadCmd) Run(r *run) error {
	test, result, err := c.analyse(r, c.Engine)
	if err != nil {
		return err
	}
	f := result.Finding()
	if c.Plot != "" {
		var b bytes.Buffer
		if err := report.Plot(&b, f.Sentence, f.Series); err != nil {
			return err
		}
		if err := writeFile(c.Plot, b.Bytes()); err != nil {
			return fmt.Errorf("plot: %w", err)
		}
	}
	var done []cutout.Unit
	for _, cut := range result.Cuts {
		if len(cut.Cylinders) > 0 {
			done = append(done, cutout.Unit(cut.Cylinders))
		}
	}
	next := cutout.Next(result, unitsOf(c.Engine, done), done, 1)
	if c.JSON {
		return r.printJSON(cutoutJSON{f, result.IdleRPM, append([]cutout.Cut{}, result.Cuts...), result.Cylinders, result.Sets, next, test.joined})
	}
	printCutout(r, result, next)
	for _, j := range test.joined {
		r.printLine(0, "%s", j)
	}
	return nil
}

// unitsOf is what is cut in this test: pairs when pairs were.
func unitsOf(l engine.Layout, done []cutout.Unit) []cutout.Unit {
	for _, u := range done {
		if len(u) == 2 {
			return cutout.Units(l, true)
		}
	}
	return cutout.Units(l, false)
}

func (c *cutoutInput) analyse(r *run, l engine.Layout) (cutoutTest, cutout.Result, error) {
	test, err := c.recording(l)
	if err != nil {
		return test, cutout.Result{}, err
	}
	result, err := cutout.Analyse(test.Recording)
	if err != nil {
		err = recordingError{fmt.Errorf("%s: %w", c.File, err)}
	}
	return test, result, err
}

func (c *cutoutInput) recording(l engine.Layout) (cutoutTest, error) {
	test, err := c.joined(l)
	if err != nil {
		return test, err
	}
	if test.Means, err = cutout.ParseMeans(c.Means); err != nil {
		return test, badInput(fmt.Errorf("--means: %w", err))
	}
	if c.Marks != "" {
		if test.Marks, err = readMarks(c.Marks); err != nil {
			return test, badInput(err)
		}
		fromBeginningToo(test.Marks, test.began)
	}
	test.Called, err = parseCalled(c.Called)
	return test, badInput(err)
}

func printCutout(r *run, result cutout.Result, next cutout.Proposal) {
	r.printLine(0, "%s", result.Sentence())
	fmt.Fprintln(r.Stdout)
	for _, c := range result.Cylinders {
		line := fmt.Sprintf("cylinder %-2d  %-11s", c.Number, c.Verdict)
		if c.Strength.Sigma >= 0 {
			line += fmt.Sprintf("  gives %3.0f %% ± %2.0f", 100*c.Strength.Value, 196*c.Strength.Sigma)
		}
		fmt.Fprintf(r.Stdout, "%s  (%s)\n", line, timesCut(c.Cuts))
	}
	fmt.Fprintln(r.Stdout)
	for i, c := range result.Cuts {
		state := ""
		switch {
		case c.Stalled:
			state = "  the engine stopped"
		case !c.Seen && !c.EndSeen:
			state = "  no change seen"
		}
		fmt.Fprintf(r.Stdout, "cut %2d  %6.1f to %6.1f s  %-4s early drop %4.0f ± %3.0f rpm%s\n", i+1, c.Start, c.End, cutText(c.Cylinders), c.Drop.Value, 1.96*c.Drop.Sigma, state)
	}
	for _, n := range result.Notes {
		r.printLine(0, "%s", n)
	}
	if !next.Done {
		r.printLine(0, "Next: cut %s. %s", cutText(next.Cut), next.Why)
	}
}

func timesCut(n int) string {
	if n == 1 {
		return "1 cut"
	}
	return fmt.Sprintf("%d cuts", n)
}

func cutText(set []engine.Cylinder) string {
	var parts []string
	for _, c := range set {
		parts = append(parts, fmt.Sprint(int(c)))
	}
	if len(parts) == 0 {
		return "?"
	}
	return strings.Join(parts, "+")
}
