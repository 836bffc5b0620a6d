// Package edges reads lists of edge times: one edge a line, a time and the
// channel it came from, in either order, such as
//
//	13.143754250 c
//	13.163727333 m
//
// Fields are separated by blanks, tabs, commas or semicolons. A line that
// begins with # is a remark. A line without a channel belongs to the channel
// named "".
package edges

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
)

// Channel is the edges of one sensor.
type Channel struct {
	Name  string
	Times []float64 // seconds, ascending
}

// Log is an edge list, read.
type Log struct {
	Channels []Channel // by name
	Skipped  int       // lines that made no sense; loggers cut their last line
}

// tolerated is the share of lines that may make no sense.
const tolerated = 0.02

// Read reads an edge list whose times are in units of tick seconds: 1 for
// seconds, 1e-6 for microseconds. Times out of order are sorted; those of a
// counter of 16, 24 or 32 bits that begins anew are counted on.
//
// It fails when more than one line in fifty makes no sense, naming the first.
func Read(r io.Reader, tick float64) (*Log, error) {
	if !(tick > 0) || math.IsInf(tick, 0) {
		return nil, fmt.Errorf("edge list: a tick of %g seconds is impossible, expected such as 1 or 1e-6", tick)
	}
	byName := map[string]*Channel{}
	out := &Log{}
	lines, edges, firstBad := 0, 0, ""
	var wraps wrapping
	scan := bufio.NewScanner(r)
	scan.Buffer(make([]byte, 64<<10), 1<<20)
	for scan.Scan() {
		lines++
		line := bytes.TrimSpace(scan.Bytes())
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		if lines == 1 && !text(line) {
			return nil, errors.New("edge list: no text but a binary file, or text in UTF-16: save it as text in UTF-8")
		}
		t, name, ok := parseLine(line)
		if !ok {
			t, name, ok = parseLine(withPoint(line))
		}
		if !ok || math.IsInf(t*tick, 0) {
			if out.Skipped++; firstBad == "" {
				firstBad = fmt.Sprintf("line %d: %.60q", lines, line)
			}
			continue
		}
		edges++
		c := byName[string(name)]
		if c == nil {
			c = &Channel{Name: string(name)}
			byName[c.Name] = c
		}
		wraps.see(c.Name, len(c.Times), t)
		c.Times = append(c.Times, t*tick)
	}
	if err := scan.Err(); err != nil {
		return nil, fmt.Errorf("edge list, after line %d: %w", lines, err)
	}
	if edges == 0 {
		return nil, errors.New("edge list: no line with a time and a channel, such as \"13.143754250 c\"")
	}
	if out.Skipped > 1 && float64(out.Skipped) > tolerated*float64(edges) {
		return nil, fmt.Errorf("edge list: %d of %d lines are no edge; first %s; expected a time and a channel, such as \"13.143754250 c\"",
			out.Skipped, lines, firstBad)
	}
	for _, name := range slices.Sorted(maps.Keys(byName)) {
		c := byName[name]
		wraps.countOn(c, tick)
		if err := c.begunAnew(); err != nil {
			return nil, err
		}
		if !slices.IsSorted(c.Times) {
			slices.Sort(c.Times)
		}
		out.Channels = append(out.Channels, *c)
	}
	return out, nil
}

func separator(b byte) bool { return b == ' ' || b == '\t' || b == ',' || b == ';' }

// parseLine finds the time and the channel of a line of one or two fields.
func parseLine(line []byte) (t float64, name []byte, ok bool) {
	i := 0
	for i < len(line) && !separator(line[i]) {
		i++
	}
	a, rest := line[:i], bytes.TrimRight(line[i:], " \t,;")
	for len(rest) > 0 && separator(rest[0]) {
		rest = rest[1:]
	}
	for _, c := range rest {
		if separator(c) {
			return 0, nil, false
		}
	}
	if t, ok = number(a); ok {
		return t, rest, true
	}
	t, ok = number(rest)
	return t, a, ok
}

func number(b []byte) (float64, bool) {
	if len(b) == 0 || !(b[0] >= '0' && b[0] <= '9' || b[0] == '-' || b[0] == '.') {
		return 0, false
	}
	v, err := strconv.ParseFloat(string(b), 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// text reports whether a line can be text in UTF-8.
func text(line []byte) bool {
	return bytes.IndexByte(line, 0) < 0 && !bytes.HasPrefix(line, []byte("\xff\xfe"))
}

// withPoint is a line with its only decimal comma, one between digits, as a point.
func withPoint(line []byte) []byte {
	i := bytes.IndexByte(line, ',')
	if i < 1 || i+1 == len(line) || i != bytes.LastIndexByte(line, ',') || !digit(line[i-1]) || !digit(line[i+1]) {
		return line
	}
	out := bytes.Clone(line)
	out[i] = '.'
	return out
}

func digit(b byte) bool { return b >= '0' && b <= '9' }

// fewestAnew is how many edges are a recording; fewer fall by a slip of the logger.
const fewestAnew = 20

// begunAnew is an error where the times of a channel fall by more than half of all
// they span and rise again into what was there before: two recordings, which sorted
// into one another would make nonsense.
func (c *Channel) begunAnew() error {
	if len(c.Times) == 0 {
		return nil
	}
	half := (slices.Max(c.Times) - slices.Min(c.Times)) / 2
	for i := fewestAnew; i <= len(c.Times)-fewestAnew; i++ {
		if at := c.Times[i-1]; at-c.Times[i] > half && slices.Max(c.Times[i:]) > slices.Min(c.Times[:i]) {
			return fmt.Errorf("edge list: the times of channel %q go back from %.6g to %.6g s at its edge %d: more than one recording in this file? keep one", c.Name, at, c.Times[i], i+1)
		}
	}
	return nil
}

// Channel finds the edges of a channel by name.
func (l *Log) Channel(name string) ([]float64, bool) {
	for _, c := range l.Channels {
		if c.Name == name {
			return c.Times, true
		}
	}
	return nil, false
}
