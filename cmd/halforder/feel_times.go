package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"halforder/reader/table"
)

// clockForms are how loggers write the time of day, with a date (RFC 3339, ISO
// 8601) or without; a fraction of a second may follow, after a point or a comma.
var clockForms = []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02 15:04:05Z07:00", "15:04:05"}

// clockTimes reads a column that holds times of day, in seconds from its first
// line; name is empty for any column. Not ok when there is none.
func clockTimes(t *table.Table, name string) (times []float64, column string, ok bool) {
	for _, c := range t.Columns {
		if c.Numbers != nil || len(c.Text) == 0 || name != "" && c.Name != name {
			continue
		}
		for _, form := range clockForms {
			if times, err := timesIn(c.Text, form); err == nil {
				return times, c.Name, true
			}
		}
	}
	return nil, "", false
}

const day = 24 * time.Hour

func timesIn(texts []string, form string) ([]float64, error) {
	var out []float64
	var first, last time.Time
	var nights time.Duration
	for i, text := range texts {
		at, err := time.Parse(form, strings.TrimSpace(text))
		if err != nil {
			return nil, fmt.Errorf("line of values %d: %w", i+1, err)
		}
		if i == 0 {
			first, last = at, at
		}
		if last.Sub(at) > day/2 { // past midnight
			nights += day
		}
		last = at
		out = append(out, (at.Sub(first) + nights).Seconds())
	}
	return out, nil
}

// times picks the column of the times, in seconds. The note says how they were
// taken, if that had to be guessed.
func (c motionColumns) times(t *table.Table) (times []float64, column, note string, err error) {
	if c.Unit == "" {
		if times, column, ok := clockTimes(t, c.Time); ok && (c.Time != "" || !hasNamedTimes(t)) {
			return times, column, "", nil
		}
	}
	at, err := c.timeColumn(t)
	if err != nil {
		return nil, "", "", err
	}
	unit := c.Unit
	if unit == "" && at.Unit == "" {
		if unit = likelyUnit(at.Numbers); unit != "s" {
			note = fmt.Sprintf("column %q is taken for %s, from its steps; say --unit if that is wrong", at.Name, unit)
		}
	}
	times, err = at.Times(unit)
	return times, at.Name, note, err
}

// hasNamedTimes reports whether a column of numbers says that it holds times.
func hasNamedTimes(t *table.Table) bool {
	return slices.ContainsFunc(t.Columns, func(c table.Column) bool {
		_, isTime := table.Seconds(c.Unit)
		name := strings.ToLower(c.Name)
		return c.Numbers != nil && (isTime || strings.HasPrefix(name, "time") || name == "t")
	})
}
