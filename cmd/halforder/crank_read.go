package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"halforder/measure/crank"
	"halforder/reader/edges"
	"halforder/reader/table"
)

// crankPick says which part of a file is what.
type crankPick struct {
	Crank  string  `placeholder:"CHANNEL" help:"Channel, column or event of the crank edges; found by itself where it can be."`
	Cam    string  `placeholder:"CHANNEL" help:"Channel, column or event that repeats once per cycle: the cam, or one cylinder's spark."`
	Time   string  `placeholder:"COLUMN" help:"Column of times."`
	Unit   string  `placeholder:"UNIT" help:"Unit of times: s, ms, us, ns; by the column name where it tells."`
	Tick   float64 `default:"1" help:"Seconds per tick in an edge list."`
	Labels string  `placeholder:"COLUMN" help:"Column that numbers the crank marks; found by itself where there is one."`
}

// channels is what the files hold, by name.
type channels struct {
	names []string
	times map[string][]float64
	rec   crank.Recording // crank edges that came with numbers
	notes []string
	flank map[string]string // of the channels that were traces: rising or falling edges
}

// addTrace is add for the edges found in a trace.
func (c *channels) addTrace(name string, times []float64, falling bool) {
	if c.flank == nil {
		c.flank = map[string]string{}
	}
	c.flank[name] = "rising"
	if falling {
		c.flank[name] = "falling"
	}
	c.add(name, times)
}

func (c *channels) add(name string, times []float64) {
	if c.times == nil {
		c.times = map[string][]float64{}
	}
	if _, there := c.times[name]; !there {
		c.names = append(c.names, name)
	}
	c.times[name] = append(c.times[name], times...)
}

// read gathers the crank and cam edges of all files.
func (p *crankPick) read(files []string) (crank.Recording, []string, error) {
	var c channels
	for _, path := range files {
		if err := p.readFile(path, &c); err != nil {
			return crank.Recording{}, nil, fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
	}
	rec, err := p.choose(&c)
	return rec, c.notes, err
}

func (p *crankPick) readFile(path string, c *channels) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, 1<<16)
	head, _ := in.Peek(512)
	switch {
	case isSoundFile(head):
		return readCrankWave(in, c)
	case p.Time != "" || p.Labels != "" || strings.EqualFold(filepath.Ext(path), ".csv") || strings.EqualFold(filepath.Ext(path), ".tsv"):
		return p.readTable(in, stem(path), c)
	}
	return p.readList(in, c)
}

func (p *crankPick) readList(in io.Reader, c *channels) error {
	tick := p.Tick
	if scale, ok := table.Seconds(p.Unit); ok {
		tick = scale
	}
	log, err := edges.Read(in, tick)
	if err != nil {
		return err
	}
	for _, ch := range log.Channels {
		c.add(ch.Name, ch.Times)
	}
	return nil
}

func (p *crankPick) readTable(in io.Reader, name string, c *channels) error {
	t, err := table.Read(in)
	if err != nil {
		return err
	}
	if p.columnsOfTimes(t, c) {
		return nil
	}
	times, err := p.timesOf(t)
	if err != nil {
		return err
	}
	timeName := p.timeName(t)
	if len(t.Columns) == 1 {
		c.add(name, times) // nothing but times: the file's name says of what
	}
	for _, other := range t.Columns {
		if other.Name != timeName {
			p.readColumn(other, times, c)
		}
	}
	return nil
}

// stem is a file's name without folder and ending.
func stem(path string) string {
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

func (p *crankPick) timeName(t *table.Table) string {
	col, _ := p.timeColumn(t)
	return col.Name
}

func (p *crankPick) timeColumn(t *table.Table) (table.Column, error) {
	if p.Time != "" {
		return t.Column(p.Time)
	}
	return t.TimeColumn()
}

// timesOf are the times of a table's lines in seconds.
func (p *crankPick) timesOf(t *table.Table) ([]float64, error) {
	col, err := p.timeColumn(t)
	if err != nil {
		return nil, err
	}
	return col.Times(p.Unit)
}

// readColumn takes a column for what it is: numbers of marks, a sampled trace,
// or names of events.
func (p *crankPick) readColumn(col table.Column, times []float64, c *channels) {
	if col.Numbers == nil {
		for name, at := range col.Events(times) {
			c.add(name, at)
		}
		return
	}
	labels, whole := col.Labels()
	if (p.Labels == col.Name || p.Labels == "") && whole && counts(labels) {
		c.rec = crank.Recording{Crank: times, Labels: labels}
		return
	}
	if whole && p.numbersChannels(col.Name, labels) {
		for i, l := range labels {
			c.add(strconv.Itoa(l), times[i:i+1])
		}
		return
	}
	if at, falling, err := traceEdges(times, col.Numbers); err == nil {
		c.addTrace(col.Name, at, falling)
	} else {
		c.notes = append(c.notes, fmt.Sprintf("Column %s left out: %v.", col.Name, err))
	}
}

// counts reports whether labels mostly go up by one or back to zero.
func counts(labels []int) bool {
	top, good := slices.Max(labels), 0
	for i := 1; i < len(labels); i++ {
		if labels[i] == labels[i-1]+1 || labels[i] == 0 && labels[i-1] == top {
			good++
		}
	}
	return top > 0 && good > len(labels)*9/10
}

// traceEdges finds the teeth in evenly sampled values.
func traceEdges(times, values []float64) (at []float64, falling bool, err error) {
	n := len(times)
	if n < 100 {
		return nil, false, errors.New("neither mark numbers nor a trace")
	}
	for i := 1; i < n; i++ {
		if times[i] < times[i-1] {
			return nil, false, fmt.Errorf("its times go back from %.6g to %.6g s at line %d of the values: more than one recording in this file", times[i-1], times[i], i+1)
		}
	}
	if !(times[n-1] > times[0]) {
		return nil, false, errors.New("its times stand still")
	}
	step := (times[n-1] - times[0]) / float64(n-1)
	for i := 1; i < n; i += 1 + n/1000 {
		if d := times[i] - times[i-1]; d < step/2 || d > 2*step {
			return nil, false, errors.New("its times are not evenly spaced, so it is no trace")
		}
	}
	tr, err := crank.NewTrace(1 / step)
	if err != nil {
		return nil, false, err
	}
	block := make([]float32, n)
	for i, v := range values {
		block[i] = float32(v)
	}
	tr.Push(block)
	at, falling, err = tr.Edges()
	for i := range at {
		at[i] += times[0]
	}
	return at, falling, err
}

// crankNames and camNames are what sensors are usually called, best first.
var (
	crankNames = []string{"crank", "c", "ckp", "ch1", "left", ""}
	camNames   = []string{"cam", "m", "cmp", "ch2", "right"}
)

// camAtMost is how many edges a cam may have for each of the crank.
const camAtMost = 2

// choose picks the crank and cam channels by name, else the busiest for the
// crank and the only other one for the cam.
func (p *crankPick) choose(c *channels) (crank.Recording, error) {
	rec := c.rec
	if rec.Crank == nil {
		name, err := pickChannel(c, p.Crank, crankNames, "crank", true)
		if err != nil {
			return rec, err
		}
		rec.Crank = c.times[name]
		slices.Sort(rec.Crank)
		rec.Crank = slices.Compact(rec.Crank)
		delete(c.times, name)
		c.names = slices.DeleteFunc(c.names, func(n string) bool { return n == name })
	} else if p.Cam == "" {
		return rec, nil
	}
	name, err := pickChannel(c, p.Cam, camNames, "cam", false)
	if err != nil {
		return rec, err
	}
	rec.Cam = c.times[name]
	if n := len(rec.Crank); p.Crank == "" && p.Cam == "" && n > 0 && len(rec.Cam) > camAtMost*n {
		return rec, fmt.Errorf("the crank's channel has %d edges and the cam's (%s) %d: are the two swapped? name them with --crank and --cam", n, name, len(rec.Cam))
	}
	if flank := c.flank[name]; flank != "" {
		c.notes = append(c.notes, fmt.Sprintf("The cam's edges in the trace are the %s ones.", flank))
	}
	slices.Sort(rec.Cam)
	return rec, nil
}

// startsWith ignores case and takes whole words: "Crank (V)", "cam_V".
func startsWith(name, usual string) bool {
	return len(usual) > 1 && len(name) > len(usual) && strings.EqualFold(name[:len(usual)], usual)
}

func pickChannel(c *channels, wanted string, usual []string, what string, needed bool) (string, error) {
	if wanted != "" {
		if _, ok := c.times[wanted]; !ok {
			return "", fmt.Errorf("no channel %q for the %s: the recording has %s", wanted, what, strings.Join(c.names, ", "))
		}
		return wanted, nil
	}
	for _, match := range []func(name, usual string) bool{strings.EqualFold, startsWith} {
		for _, u := range usual {
			for _, n := range c.names {
				if match(n, u) {
					return n, nil
				}
			}
		}
	}
	if len(c.names) == 1 {
		return c.names[0], nil
	}
	if !needed || len(c.names) == 0 {
		if needed {
			return "", errors.New(strings.TrimSpace("no crank edges found. " + strings.Join(c.notes, " ")))
		}
		return "\x00none", nil
	}
	busiest := c.names[0]
	for _, n := range c.names {
		if len(c.times[n]) > len(c.times[busiest]) {
			busiest = n
		}
	}
	return busiest, nil
}
