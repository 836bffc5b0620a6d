package main

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"halforder/reader/table"
)

// columnsOfTimes takes a table in which each column lists the edges of one
// channel, and reports whether it is one: no column of times is asked for, the
// crank's column is there by name, and every column rises throughout.
func (p *crankPick) columnsOfTimes(t *table.Table, c *channels) bool {
	if p.Time != "" || len(t.Columns) < 2 || !slices.ContainsFunc(t.Columns, p.isCrank) {
		return false
	}
	all := map[string][]float64{}
	for _, col := range t.Columns {
		at, ok := p.risingTimes(col)
		if !ok {
			return false
		}
		all[col.Name] = at
	}
	for _, col := range t.Columns {
		c.add(col.Name, all[col.Name])
	}
	return true
}

func (p *crankPick) isCrank(col table.Column) bool {
	if p.Crank != "" {
		return col.Name == p.Crank
	}
	return slices.ContainsFunc(crankNames, func(n string) bool {
		return strings.EqualFold(n, col.Name) || startsWith(col.Name, n)
	})
}

// risingTimes are the numbers of a column in seconds, empty fields left out; ok
// is false unless each is larger than the one before.
func (p *crankPick) risingTimes(col table.Column) (at []float64, ok bool) {
	unit := p.Unit
	if unit == "" {
		unit = col.Unit
	}
	scale, known := table.Seconds(unit)
	if unit != "" && !known {
		return nil, false
	}
	if !known {
		scale = 1
	}
	take := func(v float64) bool {
		if v *= scale; math.IsNaN(v) || math.IsInf(v, 0) || len(at) > 0 && v <= at[len(at)-1] {
			return false
		}
		at = append(at, v)
		return true
	}
	if len(col.Text) == 0 {
		return at, !slices.ContainsFunc(col.Numbers, func(v float64) bool { return !take(v) })
	}
	for _, field := range col.Text {
		if field == "" {
			continue
		}
		v, err := strconv.ParseFloat(strings.Replace(field, ",", ".", 1), 64)
		if err != nil || !take(v) {
			return nil, false
		}
	}
	return at, len(at) > 0
}

// mostChannels is how many channels a column may number.
const mostChannels = 8

// channelNames are what a column that numbers the channel of each edge is called.
var channelNames = []string{"channel", "chan", "ch", "sensor", "input"}

// numbersChannels reports whether a column tells by number which channel each
// edge came from.
func (p *crankPick) numbersChannels(name string, labels []int) bool {
	kinds := map[int]bool{}
	asked := false
	for _, l := range labels {
		kinds[l] = true
		if len(kinds) > mostChannels {
			return false
		}
		asked = asked || p.Crank == strconv.Itoa(l)
	}
	return asked || slices.ContainsFunc(channelNames, func(n string) bool { return strings.EqualFold(n, name) })
}
