package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"halforder/reason/plan"
)

// readLives reads lines of age, failed or sound, and where it is not 1 how many
// parts. A first line that has no number for an age is a heading.
func readLives(r io.Reader) ([]plan.Life, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord, in.TrimLeadingSpace = -1, true
	var out []plan.Life
	for {
		fields, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("no CSV table: %w", err)
		}
		line, _ := in.FieldPos(0)
		if _, err := strconv.ParseFloat(strings.TrimSpace(fields[0]), 64); err != nil && line == 1 {
			continue
		}
		l, err := readLife(fields)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		out = append(out, l)
	}
	if failed(out) == 0 {
		return nil, errors.New("no failed part in it: at least two failures at different ages are needed")
	}
	return out, nil
}

func readLife(fields []string) (plan.Life, error) {
	if len(fields) < 2 || len(fields) > 3 {
		return plan.Life{}, fmt.Errorf("%d columns: age, failed or sound, and how many are expected", len(fields))
	}
	l := plan.Life{Count: 1}
	var err error
	if l.Age, err = positive(fields[0]); err != nil {
		return l, fmt.Errorf("age %w", err)
	}
	switch state := strings.ToLower(strings.TrimSpace(fields[1])); state {
	case "failed":
		l.Failed = true
	case "sound":
	default:
		return l, fmt.Errorf("%q: write failed or sound", state)
	}
	if len(fields) == 3 {
		if l.Count, err = positive(fields[2]); err != nil {
			return l, fmt.Errorf("number of parts %w", err)
		}
	}
	return l, nil
}

// mostAge keeps powers of ages within what a float can hold.
const mostAge = 1e9

func positive(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || !(v > 0) || v > mostAge || math.IsNaN(v) {
		return 0, fmt.Errorf("%q: a number above 0 and at most %g is expected", text, mostAge)
	}
	return v, nil
}
