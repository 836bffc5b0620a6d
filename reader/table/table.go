// Package table reads tables of values over time: text separated by commas,
// semicolons, tabs or blanks, with or without a line of column names and one of
// units, after any lines about the logger, with decimal point or decimal comma,
// with or without a separator at the end of each line, and an event column where
// each line names what happened ("spark" or "dwell=34992").
//
// A table says which columns it has and which unit each name suggests; the
// caller picks. Times come out in seconds, those of a clock since midnight.
package table

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Table is a table as text, by columns.
type Table struct {
	Columns []Column
	Rows    int
	Skipped int // lines with another number of fields, an empty last one apart
}

// Column is one column. Numbers holds NaN where a field is no number; it is nil
// when fewer than half are.
type Column struct {
	Name    string // from the first line, or "1", "2" … where it holds numbers
	Numbers []float64
	Text    []string
	Unit    string // suggested by the name: "s", "ms", "us", "ns", "V", "mV", "A", "rpm"; empty: none
}

const tolerated = 0.02

// Read reads a whole table. It fails when it holds no line of values or more
// than one line in fifty has another number of fields.
func Read(r io.Reader) (*Table, error) {
	in := bufio.NewReaderSize(r, openingBytes)
	head, err := in.Peek(openingBytes)
	scan := bufio.NewScanner(in)
	scan.Buffer(make([]byte, 64<<10), 1<<20)
	b := builder{opening: openingOf(head, err != nil)}
	for scan.Scan() {
		if err := b.line(scan.Bytes()); err != nil {
			return nil, err
		}
	}
	if err := scan.Err(); err != nil {
		return nil, fmt.Errorf("table, after line %d: %w", b.lines, err)
	}
	return b.table()
}

// builder collects lines into columns.
type builder struct {
	opening
	sep      byte
	comma    bool // decimal comma
	lines    int
	header   []string
	fields   [][]byte
	text     [][]string
	numbers  [][]float64
	numeric  []int
	rows     int
	skipped  int
	firstBad string
	endless  bool // the first line ends in a separator
}

const mostColumns = 256

func (b *builder) line(line []byte) error {
	b.lines++
	if line = trimmed(line); skipped(line) || b.lines <= b.before {
		return nil
	}
	if b.sep == 0 {
		return b.first(line)
	}
	b.split(line)
	b.end()
	if b.lines == b.units && len(b.fields) == len(b.header) {
		for i, f := range b.fields {
			b.header[i] = nameWithUnit(b.header[i], string(f))
		}
		return nil
	}
	if len(b.fields) != len(b.text) {
		b.skip(line)
		return nil
	}
	b.row()
	return nil
}

// trimmed is a line without what editors put around it. An empty field beside a
// tab counts.
func trimmed(line []byte) []byte {
	return bytes.Trim(bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")), " \r\n")
}

// skipped reports whether a line says nothing: empty or a remark.
func skipped(line []byte) bool {
	return len(bytes.TrimSpace(line)) == 0 || line[0] == '#'
}

// end allows for lines that end in a separator, all of them or those of values
// only, as many loggers write them.
func (b *builder) end() {
	n := len(b.text)
	switch {
	case len(b.fields) == n+1 && len(b.fields[n]) == 0:
		b.fields = b.fields[:n]
	case len(b.fields) == n-1 && b.endless:
		b.fields = append(b.fields, nil)
	}
}

// dropEnd lets go of a last column that no line names or fills.
func (b *builder) dropEnd() {
	n := len(b.text) - 1
	if b.endless && n > 0 && b.numeric[n] == 0 && !slices.ContainsFunc(b.text[n], func(s string) bool { return s != "" }) {
		b.header, b.text, b.numbers = b.header[:n], b.text[:n], b.numbers[:n]
	}
}

func (b *builder) skip(line []byte) {
	if b.skipped++; b.firstBad == "" {
		b.firstBad = fmt.Sprintf("line %d: %.60q", b.lines, line)
	}
}

// first decides separator and header.
func (b *builder) first(line []byte) error {
	if bytes.IndexByte(line, 0) >= 0 {
		return errors.New("no table of text but a binary file, such as a recording of sound, or text in UTF-16: expected CSV in UTF-8")
	}
	b.sep = ','
	switch {
	case b.opening.sep != 0:
		b.sep, b.comma = b.opening.sep, b.opening.sep != ','
	case bytes.IndexByte(line, '\t') >= 0:
		b.sep, b.comma = '\t', true
	case bytes.IndexByte(line, ';') >= 0:
		b.sep, b.comma = ';', true
	}
	b.split(line)
	if len(b.fields) > mostColumns {
		return fmt.Errorf("table: %d columns in the first line, at most %d are read", len(b.fields), mostColumns)
	}
	n := len(b.fields)
	b.endless = n > 1 && len(b.fields[n-1]) == 0
	b.text, b.numbers, b.numeric = make([][]string, n), make([][]float64, n), make([]int, n)
	if _, ok := b.number(b.fields[0]); ok {
		for i := range b.fields {
			b.header = append(b.header, strconv.Itoa(i+1))
		}
		b.row()
		return nil
	}
	for _, f := range b.fields {
		b.header = append(b.header, string(f))
	}
	return nil
}

// split cuts a line into trimmed, unquoted fields.
func (b *builder) split(line []byte) {
	b.fields = b.fields[:0]
	if b.sep == blanks {
		b.fields = append(b.fields, bytes.Fields(line)...)
		return
	}
	for {
		i := bytes.IndexByte(line, b.sep)
		field := line
		if i >= 0 {
			field = line[:i]
		}
		field = bytes.TrimSpace(field)
		if n := len(field); n >= 2 && field[0] == '"' && field[n-1] == '"' {
			field = field[1 : n-1]
		}
		b.fields = append(b.fields, field)
		if i < 0 {
			return
		}
		line = line[i+1:]
	}
}

func (b *builder) number(f []byte) (float64, bool) {
	if len(f) == 0 || f[0] > '9' {
		return 0, false
	}
	s := string(f)
	if b.comma && strings.Count(s, ",") == 1 {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v)
}

func (b *builder) row() {
	b.rows++
	for i, f := range b.fields {
		v, ok := b.number(f)
		if ok {
			b.numeric[i]++
		} else {
			v = math.NaN()
		}
		b.numbers[i] = append(b.numbers[i], v)
		if ok && b.numeric[i] == b.rows { // all numbers so far: text is not needed
			continue
		}
		if missing := b.rows - 1 - len(b.text[i]); missing > 0 {
			b.text[i] = append(b.text[i], make([]string, missing)...)
			for k := range missing {
				b.text[i][k] = strconv.FormatFloat(b.numbers[i][k], 'g', -1, 64)
			}
		}
		b.text[i] = append(b.text[i], string(f))
	}
}

func (b *builder) table() (*Table, error) {
	if b.rows == 0 && b.skipped == 0 {
		return nil, errors.New("table: no line of values")
	}
	if b.rows == 0 || b.skipped > 1 && float64(b.skipped) > tolerated*float64(b.rows) {
		return nil, fmt.Errorf("table: %d of %d lines have another number of fields than the first (%d); first %s",
			b.skipped, b.lines, len(b.text), b.firstBad)
	}
	b.dropEnd()
	t := &Table{Rows: b.rows, Skipped: b.skipped}
	for i, name := range b.header {
		c := Column{Name: name, Text: b.text[i], Numbers: b.numbers[i], Unit: UnitOf(name)}
		if 2*b.numeric[i] < b.rows {
			c.Numbers = nil
			if times, ok := clockTimes(c.Text); ok {
				c.Numbers, c.Unit = times, "s"
			}
		}
		t.Columns = append(t.Columns, c)
	}
	return t, nil
}

// units by the endings and brackets that name them.
var units = []string{"rpm", "ms", "us", "µs", "ns", "mV", "mA", "s", "V", "A"}

// UnitOf is the unit a column name suggests: an ending such as "_us", or one in
// brackets such as "time (ms)" or "speed [rpm]". Empty: none.
func UnitOf(name string) string {
	trimmed := strings.TrimRight(name, ")] ")
	for _, u := range units {
		head, ok := strings.CutSuffix(trimmed, u)
		if ok && head != "" && strings.ContainsRune("_ ([/.", rune(head[len(head)-1])) {
			if u == "µs" {
				return "us"
			}
			return u
		}
	}
	return ""
}

// Seconds is how many seconds a unit of time has; ok is false for others.
func Seconds(unit string) (scale float64, ok bool) {
	scale, ok = map[string]float64{"s": 1, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9}[unit]
	return scale, ok
}

// Names lists the column names.
func (t *Table) Names() []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, c.Name)
	}
	return out
}

// Column finds a column by name, else by its number from 1.
func (t *Table) Column(name string) (Column, error) {
	for _, c := range t.Columns {
		if c.Name == name {
			return c, nil
		}
	}
	if i, err := strconv.Atoi(name); err == nil && i >= 1 && i <= len(t.Columns) {
		return t.Columns[i-1], nil
	}
	return Column{}, fmt.Errorf("column %q is not there: the table has %s", name, strings.Join(t.Names(), ", "))
}

// TimeColumn guesses the column that holds time: by name, else the first that
// rises throughout.
func (t *Table) TimeColumn() (Column, error) {
	for _, c := range t.Columns {
		if _, isTime := Seconds(c.Unit); isTime && c.Numbers != nil {
			return c, nil
		}
	}
	for _, c := range t.Columns {
		name := strings.ToLower(c.Name)
		if c.Numbers != nil && (strings.HasPrefix(name, "time") || name == "t" || slices.IsSorted(c.Numbers)) {
			return c, nil
		}
	}
	return Column{}, fmt.Errorf("no column of times was recognised among %s: name it", strings.Join(t.Names(), ", "))
}

// Times are a column's values in seconds: by unit when given, else by the unit
// its name suggests, else taken as seconds.
func (c Column) Times(unit string) ([]float64, error) {
	if c.Numbers == nil {
		return nil, fmt.Errorf("column %q holds no numbers", c.Name)
	}
	if unit == "" {
		unit = c.Unit
	}
	if unit == "" {
		unit = "s"
		if len(c.Numbers) > 0 {
			unit = epochUnit(c.Numbers[0])
		}
	}
	scale, ok := Seconds(unit)
	if !ok {
		return nil, fmt.Errorf("column %q: unit %q is no unit of time, expected s, ms, us or ns", c.Name, unit)
	}
	out := make([]float64, len(c.Numbers))
	for i, v := range c.Numbers {
		if math.IsNaN(v) {
			return nil, fmt.Errorf("column %q: line of values %d is no number", c.Name, i+1)
		}
		out[i] = v * scale
	}
	return out, nil
}

// Events are the times at which a text column names each event, by the name
// before any "=". The result is sorted by time.
func (c Column) Events(times []float64) map[string][]float64 {
	out := map[string][]float64{}
	for i, text := range c.Text {
		name, _, _ := strings.Cut(text, "=")
		if name = strings.TrimSpace(name); !nothing(name) && i < len(times) {
			out[name] = append(out[name], times[i])
		}
	}
	for _, t := range out {
		slices.Sort(t)
	}
	return out
}

// nothing reports whether a text stands for no value.
func nothing(text string) bool {
	return text == "" || slices.ContainsFunc([]string{"nan", "null", "none", "n/a", "inf", "-inf", "∞", "-∞", "-"}, func(s string) bool { return strings.EqualFold(s, text) })
}

// Labels are a column's values as whole numbers from 0; ok is false when any is
// not.
func (c Column) Labels() (labels []int, ok bool) {
	for _, v := range c.Numbers {
		if !(v >= 0 && v < 1e6) || v != math.Trunc(v) {
			return nil, false
		}
		labels = append(labels, int(v))
	}
	return labels, len(labels) > 0
}
