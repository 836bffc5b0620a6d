package job

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/reason/fault"
)

// ReadResults reads what a check gave as a person types it: an outcome or a
// value with its unit, after the cylinders it belongs to.
//
//	"1,2=normal"   "3=7.2bar"   and for the whole engine   "lean-idle"   "14%/2%"
//
// The usual outcome without a place is said of every cylinder where all are looked at.
// Of a check of a bank, any of its cylinders names the bank; the result stands at the
// bank's first.
//
// A value becomes an outcome by the catalogue's rule. The error says what does
// not exist, what cannot be, or what the check wants.
func (c *Card) ReadResults(cat *fault.Catalogue, code string, fields []string) ([]Result, error) {
	check, err := cat.Check(code)
	if err != nil {
		return nil, err
	}
	if !check.Fits(c.Opened.Ignition, c.Opened.Injection) {
		return nil, fmt.Errorf("check %q does not exist on a car with %s ignition and %s injection", code, c.Opened.Ignition, c.Opened.Injection)
	}
	var out []Result
	measured := map[engine.Cylinder][]fault.Value{}
	seen := map[engine.Cylinder]bool{}
	for _, field := range fields {
		at, answer, err := splitResult(c.Layout(), check, field)
		if err != nil {
			return nil, err
		}
		if ofBanks(check, c.Layout()) {
			if at, err = eachBank(c.Layout(), at); err != nil {
				return nil, fmt.Errorf("%s: %q: %w", check.Code, field, err)
			}
		}
		for _, cylinder := range at {
			if seen[cylinder] {
				return nil, fmt.Errorf("%s: two results for the same place in %q", check.Code, field)
			}
			seen[cylinder] = true
			if slices.Contains(check.OutcomeCodes(), answer) {
				out = append(out, Result{Cylinder: cylinder, Outcome: answer})
				continue
			}
			if measured[cylinder], err = readValues(cat, check, answer); err != nil {
				return nil, err
			}
		}
	}
	judged, err := judge(cat, check, c.Opened.Injection, measured)
	return append(out, judged...), err
}

// splitResult parts the cylinders from the answer; cylinder 0 is the whole engine.
func splitResult(l engine.Layout, check *fault.Check, field string) ([]engine.Cylinder, string, error) {
	places, answer, named := strings.Cut(field, "=")
	if !named {
		at, err := unnamed(l, check, field)
		return at, field, err
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

// unnamed is where an answer without a place belongs: to the whole engine, or, where
// all cylinders are looked at, to each of them if it is the usual answer.
func unnamed(l engine.Layout, check *fault.Check, answer string) ([]engine.Cylinder, error) {
	switch {
	case check.Scope == fault.EachCylinder && answer == check.OutcomeCodes()[0]:
		return l.Cylinders(), nil
	case check.Scope == fault.EachCylinder || check.Scope == fault.PerCylinder:
		return nil, fmt.Errorf("%s: %q names no cylinder, write it as 3=%s", check.Code, answer, answer)
	}
	return []engine.Cylinder{0}, nil
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
func judge(cat *fault.Catalogue, check *fault.Check, injection fault.Injection, measured map[engine.Cylinder][]fault.Value) ([]Result, error) {
	if len(measured) == 0 {
		return nil, nil
	}
	outcomes, err := cat.Judge(check.Code, injection, measured)
	if err != nil {
		return nil, err
	}
	var out []Result
	for cylinder := engine.Cylinder(0); cylinder <= engine.MaxCylinders; cylinder++ {
		if outcome, ok := outcomes[cylinder]; ok {
			out = append(out, Result{Cylinder: cylinder, Outcome: outcome, Values: storedValues(measured[cylinder])})
		}
	}
	return out, nil
}

func storedValues(values []fault.Value) []Value {
	var out []Value
	for _, v := range values {
		out = append(out, Value{Number: v.Number, Unit: v.Unit})
	}
	return out
}
