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

func (c cutoutColumns) read(path string, l engine.Layout) (cutout.Recording, error) {
	f, err := os.Open(path)
	if err != nil {
		return cutout.Recording{}, badInput(err)
	}
	defer f.Close()
	in := bufio.NewReader(f)
	head, _ := in.Peek(4096)
	var rec cutout.Recording
	switch {
	case isSoundFile(head):
		rec, err = c.sound(in, l)
	case c.isEdges(head):
		rec, err = c.edges(in, l)
	default:
		rec, err = c.table(in, l)
	}
	if err != nil && !errors.As(err, new(inputError)) {
		err = recordingError{fmt.Errorf("%s: %w", filepath.Base(path), err)}
	}
	return rec, err
}

// isEdges reports whether a file looks like a list of edges: at most two fields
// a line and no engine speed in its head.
func (c cutoutColumns) isEdges(head []byte) bool {
	if c.Speed != "" || c.Time != "" {
		return false
	}
	lines := strings.Split(string(head), "\n")
	fields := 0
	for _, line := range lines[:len(lines)-1] {
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			fields = max(fields, len(strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" \t,;", r) })))
		}
	}
	return fields == 1 || fields == 2 && !strings.Contains(strings.ToLower(lines[0]), "rpm") && !strings.Contains(strings.ToLower(lines[0]), "speed")
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

func (c cutoutColumns) table(in io.Reader, l engine.Layout) (cutout.Recording, error) {
	t, err := table.Read(in)
	if err != nil {
		return cutout.Recording{}, err
	}
	clock, err := c.clock(t)
	if err != nil {
		return cutout.Recording{}, err
	}
	times, err := clock.Times("")
	if err != nil {
		return cutout.Recording{}, err
	}
	named := byName(t, clock.Name, times)
	if axes, ok := motion(named); ok && c.Speed == "" {
		return cutout.FromMotion(axes, l, engine.RPM(c.RPM))
	}
	rec := cutout.Recording{Layout: l}
	if rec.Speed, err = c.pick(named, c.Speed, "engine speed", "rpm", "engine_speed", "enginespeed", "n_engine"); err != nil {
		return rec, err
	}
	if c.Rough != "" {
		if rec.Rough, err = c.pick(named, c.Rough, "roughness"); err != nil {
			return rec, err
		}
	}
	rec.Efforts, err = c.efforts(named)
	return rec, err
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
		for name, t := range named {
			if strings.Contains(strings.ToLower(name), u) {
				return t, nil
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

// readMarks reads lines of seconds, a verb and a cylinder or pair: "12.5 off 3",
// "17 on", "12.5 unplug injector 3", "17 reconnect injector 3". Other verbs of a
// practice script are passed over.
func readMarks(path string) ([]cutout.Mark, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return parseMarks(string(text), filepath.Base(path))
}

// parseMarks reads the text of a file of that name.
func parseMarks(text, name string) ([]cutout.Mark, error) {
	var out []cutout.Mark
	for i, line := range strings.Split(text, "\n") {
		words := strings.Fields(line)
		if len(words) < 2 || strings.HasPrefix(words[0], "#") {
			continue
		}
		m, ok, err := parseMark(words)
		if err != nil {
			return nil, fmt.Errorf("%s, line %d: %w", name, i+1, err)
		}
		if ok {
			out = append(out, m)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s holds no mark: expected lines such as '12.5 off 3' and '17 on'", name)
	}
	return out, nil
}

func parseMark(words []string) (m cutout.Mark, ok bool, err error) {
	if m.At, err = strconv.ParseFloat(words[0], 64); err != nil || math.IsNaN(m.At) || math.IsInf(m.At, 0) {
		return m, false, fmt.Errorf("%q is not a time in seconds", words[0])
	}
	switch words[1] {
	case "on", "reconnect":
		m.On = true
		return m, true, nil
	case "off", "unplug":
		if len(words) < 3 {
			return m, false, fmt.Errorf("%q names no cylinder: write '12.5 off 3'", strings.Join(words, " "))
		}
		m.Cylinders, err = parseSet(words[len(words)-1])
		return m, true, err
	}
	return m, false, nil
}

func parseCalled(text string) (out [][]engine.Cylinder, err error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	for part := range strings.SplitSeq(text, ",") {
		set, err := parseSet(part)
		if err != nil {
			return nil, fmt.Errorf("--called: %w", err)
		}
		out = append(out, set)
	}
	return out, nil
}

func parseSet(text string) (out []engine.Cylinder, err error) {
	for part := range strings.SplitSeq(text, "+") {
		n, err := strconv.Atoi(strings.TrimSpace(part))
		if err != nil || n < 1 {
			return nil, fmt.Errorf("%q is no cylinder: write 3, or 1+4 for two at once", text)
		}
		out = append(out, engine.Cylinder(n))
	}
	return out, nil
}

func sortedNames(named map[string]cutout.Track) []string {
	out := slices.Collect(maps.Keys(named))
	slices.Sort(out)
	return out
}
