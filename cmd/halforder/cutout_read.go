package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/measure/cutout"
	"halforder/reader/edges"
	"halforder/reader/table"
)

// cutoutColumns say where in a file the engine speed and the rest stand.
type cutoutColumns struct {
	Time   string   `placeholder:"COLUMN" help:"Column of times, by name or number."`
	Speed  string   `placeholder:"COLUMN" help:"Column of engine speed in rpm."`
	Effort []string `placeholder:"COLUMN" help:"Columns of idle-control effort: air, throttle, timing."`
	Rough  string   `placeholder:"COLUMN" help:"Column of roughness."`
	Wheel  string   `default:"auto" placeholder:"WHEEL" help:"Crank wheel of a file of edges: 60-2, 36-1, auto."`
	RPM    float64  `placeholder:"RPM" help:"Idle speed if known; helps with sound."`
}

// read also says what time of day, or of an epoch, the recording calls its beginning,
// s: times count from there. 0: they are left as they are.
func (c cutoutColumns) read(path string, l engine.Layout) (rec cutout.Recording, began float64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return rec, 0, badInput(err)
	}
	defer f.Close()
	in := bufio.NewReader(f)
	head, _ := in.Peek(4096)
	switch {
	case isSoundFile(head):
		rec, err = c.sound(in, l)
	case c.isEdges(head):
		rec, err = c.edges(in, l)
	default:
		rec, began, err = c.table(in, l)
	}
	if err != nil && !errors.As(err, new(inputError)) {
		err = recordingError{fmt.Errorf("%s: %w", filepath.Base(path), err)}
	}
	return rec, began, err
}

// isEdges reports whether a file looks like a list of edges: at most two fields
// a line, no name and no number that is an engine speed.
func (c cutoutColumns) isEdges(head []byte) bool {
	if c.Speed != "" || c.Time != "" {
		return false
	}
	lines := strings.Split(string(head), "\n")
	most, speeds := 0, 0
	for _, line := range lines[:len(lines)-1] {
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			fields := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" \t,;", r) })
			most = max(most, len(fields))
			if v, err := strconv.ParseFloat(fields[len(fields)-1], 64); err == nil && len(fields) == 2 && idles(v) {
				speeds++
			}
		}
	}
	return most == 1 || most == 2 && !namesSpeed(lines[0]) && 2*speeds < len(lines)
}

// idles reports whether a number may be the speed of an engine at idle or a little
// above, rpm; channels of edges have smaller numbers.
func idles(v float64) bool { return v >= 300 && v <= 3000 }

// speedNames are parts of names of engine speed.
var speedNames = []string{"rpm", "1/min", "min-1", "engine_speed", "engine speed", "enginespeed", "n_engine"}

func namesSpeed(head string) bool {
	head = strings.ToLower(head)
	return strings.Contains(head, "speed") || slices.ContainsFunc(speedNames, func(name string) bool { return strings.Contains(head, name) })
}

func (c cutoutColumns) sound(in io.Reader, l engine.Layout) (cutout.Recording, error) {
	w, err := openSoundFile(in)
	if err != nil {
		return cutout.Recording{}, err
	}
	mix, err := newMono(w, w.Channels(), 0, 0)
	if err != nil {
		return cutout.Recording{}, err
	}
	return cutout.FromSound(mix, w.Rate(), l, engine.RPM(c.RPM))
}

func (c cutoutColumns) edges(in io.Reader, l engine.Layout) (cutout.Recording, error) {
	wheel, err := crank.ParseWheel(c.Wheel)
	if err != nil {
		return cutout.Recording{}, badInput(fmt.Errorf("--wheel: %w", err))
	}
	log, err := edges.Read(skipHeader(in), 1)
	if err != nil {
		return cutout.Recording{}, err
	}
	times, ok := log.Channel("c")
	if !ok && len(log.Channels) > 0 {
		times = log.Channels[0].Times
	}
	return cutout.FromCrank(crank.Setup{Layout: l, Wheel: wheel}, crank.Recording{Crank: times})
}

// skipHeader drops a first line that holds no number.
func skipHeader(in io.Reader) io.Reader {
	b := bufio.NewReader(in)
	head, _ := b.Peek(1)
	if len(head) == 1 && (head[0] >= 'a' && head[0] <= 'z' || head[0] >= 'A' && head[0] <= 'Z') {
		b.ReadString('\n')
	}
	return b
}

func (c cutoutColumns) table(in io.Reader, l engine.Layout) (rec cutout.Recording, began float64, err error) {
	t, err := table.Read(in)
	if err != nil {
		return rec, 0, err
	}
	clock, err := c.clock(t)
	if err != nil {
		return rec, 0, err
	}
	times, err := clock.Times("")
	if err != nil {
		return rec, 0, err
	}
	began = fromBeginning(times)
	named := byName(t, clock.Name, times)
	if axes, ok := motion(named); ok && c.Speed == "" {
		rec, err = cutout.FromMotion(axes, l, engine.RPM(c.RPM))
		return rec, began, err
	}
	rec.Layout = l
	if rec.Speed, err = c.speed(named); err != nil {
		return rec, began, err
	}
	if c.Rough != "" {
		if rec.Rough, err = c.pick(named, c.Rough, "roughness"); err != nil {
			return rec, began, err
		}
	}
	rec.Efforts, err = c.efforts(named)
	return rec, began, err
}

// longSince is how late, s, a clock must be at the beginning to count from elsewhere:
// midnight, an epoch, the start of the car.
const longSince = 3600.0

// fromBeginning lets such times count from the first, and returns what that was.
func fromBeginning(times []float64) (began float64) {
	if len(times) == 0 || times[0] < longSince {
		return 0
	}
	began = times[0]
	for i := range times {
		times[i] -= began
	}
	return began
}

// speed is the track of engine speed: by name, or the only one there is.
func (c cutoutColumns) speed(named map[string]cutout.Track) (cutout.Track, error) {
	t, err := c.pick(named, c.Speed, "engine speed", speedNames...)
	if err == nil || c.Speed != "" || len(named) != 1 {
		return t, err
	}
	for _, only := range named {
		sorted := slices.Sorted(slices.Values(only.Y))
		if len(sorted) > 0 && idles(sorted[len(sorted)/2]) {
			return only, nil
		}
	}
	return t, err
}

func (c cutoutColumns) clock(t *table.Table) (table.Column, error) {
	if c.Time == "" {
		return t.TimeColumn()
	}
	col, err := t.Column(c.Time)
	return col, badInput(err)
}

// byName sorts a table into tracks: one for each column of numbers, or, when it
// has a column of names and one of values, one for each name.
func byName(t *table.Table, clock string, times []float64) map[string]cutout.Track {
	out := map[string]cutout.Track{}
	put := func(name string, at, value float64) {
		if !math.IsNaN(value) && !math.IsInf(value, 0) {
			track := out[name]
			track.T, track.Y = append(track.T, at), append(track.Y, value)
			out[name] = track
		}
	}
	if len(t.Columns) == 3 && t.Columns[1].Numbers == nil && t.Columns[2].Numbers != nil {
		for i, v := range t.Columns[2].Numbers {
			put(strings.TrimSpace(t.Columns[1].Text[i]), times[i], v)
		}
		return out
	}
	for _, col := range t.Columns {
		if col.Name == clock || col.Numbers == nil {
			continue
		}
		for i, v := range col.Numbers {
			put(col.Name, times[i], v)
		}
	}
	return out
}

// pick finds a track by its wanted name, else by what names usually hold.
func (c cutoutColumns) pick(named map[string]cutout.Track, wanted, what string, usual ...string) (cutout.Track, error) {
	if wanted != "" {
		if t, ok := named[wanted]; ok {
			return t, nil
		}
		return cutout.Track{}, badInput(fmt.Errorf("column %q of %s is not there: the file has %s", wanted, what, names(named)))
	}
	for _, u := range usual {
		for _, name := range sortedNames(named) {
			if strings.Contains(strings.ToLower(name), u) {
				return named[name], nil
			}
		}
	}
	return cutout.Track{}, fmt.Errorf("no column of %s was recognised among %s: name it with --speed", what, names(named))
}

// motion are the axes of a phone's acceleration, when that is what a table holds.
func motion(named map[string]cutout.Track) (axes [3]cutout.Track, ok bool) {
	for i, name := range []string{"x", "y", "z"} {
		t, found := named[name]
		if !found {
			return axes, false
		}
		axes[i] = t
	}
	return axes, true
}

// effortNames are parts of names of what the idle control does.
var effortNames = []string{"air_g", "airflow", "air flow", "throttle", "advance", "timing", "idle_air", "maf"}

func (c cutoutColumns) efforts(named map[string]cutout.Track) (out []cutout.Effort, err error) {
	for _, want := range c.Effort {
		t, err := c.pick(named, want, "effort")
		if err != nil {
			return nil, err
		}
		out = append(out, cutout.Effort{Name: want, Track: t})
	}
	if len(c.Effort) > 0 {
		return out, nil
	}
	for _, name := range sortedNames(named) {
		for _, u := range effortNames {
			if strings.Contains(strings.ToLower(name), u) {
				out = append(out, cutout.Effort{Name: name, Track: named[name]})
				break
			}
		}
	}
	return out, nil
}

func names(named map[string]cutout.Track) string { return strings.Join(sortedNames(named), ", ") }

func sortedNames(named map[string]cutout.Track) []string {
	out := slices.Collect(maps.Keys(named))
	slices.Sort(out)
	return out
}
