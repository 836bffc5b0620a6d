package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

type jobEnterCmd struct {
	Check   string       `arg:"" help:"The check done (see: halforder job checks)."`
	Results []string     `arg:"" help:"What it gave: an outcome or a value with its unit, after the cylinders it belongs to."`
	When    fault.Regime `default:"any" help:"How the engine ran: any, idle, cold, hot, load, wet."`
	Miss    string       `enum:",present,absent" default:"" help:"Was the miss there at the time: present, absent."`
	Words   string       `help:"A remark."`
	spent
}

func (c *jobEnterCmd) Help() string {
	return `  halforder job enter cut-out 3=none
  halforder job enter cut-out 1,2,4,5,6=drop
  halforder job enter compression 1=11.8bar 2=11.6bar 3=7.2bar 4=11.7bar 5=11.9bar 6=11.5bar
  halforder job enter trims 14%/2%`
}

func (c *jobEnterCmd) Run(r *run, g *jobCmd) error {
	return g.withCard(r, func(d desk, card *job.Card) error {
		entered, err := c.entered(card, d.catalogue)
		if err != nil {
			return badInput(err)
		}
		return d.enter(card, entered.Check+": "+entered.Describe(d.catalogue), entered)
	})
}

func (c *jobEnterCmd) entered(card *job.Card, cat *fault.Catalogue) (*job.Entered, error) {
	check, err := cat.Check(c.Check)
	if err != nil {
		return nil, err
	}
	if !check.Fits(card.Opened.Ignition, card.Opened.Injection) {
		return nil, fmt.Errorf("check %q does not exist on a car with %s ignition and %s injection", c.Check, card.Opened.Ignition, card.Opened.Injection)
	}
	regime, err := fault.ParseRegime(string(c.When))
	if err != nil {
		return nil, err
	}
	cash, err := c.cents()
	if err != nil {
		return nil, err
	}
	results, err := readResults(cat, check, card, c.Results)
	return &job.Entered{Check: c.Check, Results: results, Regime: regime, Miss: belief.Presence(c.Miss),
		Minutes: c.Minutes, Cash: cash, Words: c.Words}, err
}

// readResults reads "1,2=drop", "3=7.2bar" or, for the whole engine, "14%/2%".
func readResults(cat *fault.Catalogue, check *fault.Check, card *job.Card, fields []string) ([]job.Result, error) {
	var out []job.Result
	measured := map[engine.Cylinder][]fault.Value{}
	seen := map[engine.Cylinder]bool{}
	for _, field := range fields {
		at, answer, err := splitResult(card.Layout(), check, field)
		if err != nil {
			return nil, err
		}
		for _, cylinder := range at {
			if seen[cylinder] {
				return nil, fmt.Errorf("%s: two results for the same place in %q", check.Code, field)
			}
			seen[cylinder] = true
			if slices.Contains(check.OutcomeCodes(), answer) {
				out = append(out, job.Result{Cylinder: cylinder, Outcome: answer})
				continue
			}
			if measured[cylinder], err = readValues(cat, check, answer); err != nil {
				return nil, err
			}
		}
	}
	judged, err := judge(cat, check, card.Opened.Injection, measured)
	return append(out, judged...), err
}

// splitResult parts the cylinders from the answer; no cylinders is the whole
// engine.
func splitResult(l engine.Layout, check *fault.Check, field string) ([]engine.Cylinder, string, error) {
	places, answer, named := strings.Cut(field, "=")
	if !named {
		if check.Scope == fault.PerCylinder {
			return nil, "", fmt.Errorf("%s: %q names no cylinder, write it as 3=%s", check.Code, field, field)
		}
		return []engine.Cylinder{0}, field, nil
	}
	var out []engine.Cylinder
	for text := range strings.SplitSeq(places, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil {
			return nil, "", fmt.Errorf("%s: %q is not a cylinder number in %q", check.Code, text, field)
		}
		if err := l.Check(engine.Cylinder(n)); err != nil {
			return nil, "", fmt.Errorf("%s: %w", check.Code, err)
		}
		out = append(out, engine.Cylinder(n))
	}
	return out, strings.TrimSpace(answer), nil
}

func readValues(cat *fault.Catalogue, check *fault.Check, text string) ([]fault.Value, error) {
	if _, ok := cat.Measured(check.Code); !ok || !strings.ContainsAny(text, "0123456789") {
		_, err := check.Outcome(text)
		return nil, err
	}
	var out []fault.Value
	for part := range strings.SplitSeq(text, "/") {
		v, err := cat.ParseValue(check.Code, part)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// judge turns measured values into outcomes, in the order of the cylinders.
func judge(cat *fault.Catalogue, check *fault.Check, injection fault.Injection, measured map[engine.Cylinder][]fault.Value) ([]job.Result, error) {
	if len(measured) == 0 {
		return nil, nil
	}
	outcomes, err := cat.Judge(check.Code, injection, measured)
	if err != nil {
		return nil, err
	}
	var out []job.Result
	for cylinder := engine.Cylinder(0); cylinder <= engine.MaxCylinders; cylinder++ {
		if outcome, ok := outcomes[cylinder]; ok {
			out = append(out, job.Result{Cylinder: cylinder, Outcome: outcome, Values: storedValues(measured[cylinder])})
		}
	}
	return out, nil
}

func storedValues(values []fault.Value) []job.Value {
	var out []job.Value
	for _, v := range values {
		out = append(out, job.Value{Number: v.Number, Unit: v.Unit})
	}
	return out
}
