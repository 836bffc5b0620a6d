package fault

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"
)

// table is one data file: a header and rows that remember their line.
type table struct {
	name string
	rows []row
	errs []error
}

type row struct {
	t      *table
	line   int
	fields map[string]string
}

// readTable reads a CSV file with the given columns. A missing file is an
// empty table when optional.
func readTable(files fs.FS, name string, columns []string, optional bool) (*table, error) {
	f, err := files.Open(name)
	if errors.Is(err, fs.ErrNotExist) && optional {
		return &table{name: name}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("catalogue: %w", err)
	}
	defer f.Close()
	return parseTable(f, name, columns)
}

func parseTable(r io.Reader, name string, columns []string) (*table, error) {
	in := csv.NewReader(r)
	in.Comment, in.TrimLeadingSpace = '#', true
	head, err := in.Read()
	if err != nil {
		return nil, fmt.Errorf("%s: no header line, expected %s", name, strings.Join(columns, ","))
	}
	if !slices.Equal(head, columns) {
		return nil, fmt.Errorf("%s: the header is %q, expected %q", name, strings.Join(head, ","), strings.Join(columns, ","))
	}
	t := &table{name: name}
	for {
		fields, err := in.Read()
		if errors.Is(err, io.EOF) {
			return t, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		line, _ := in.FieldPos(0)
		t.rows = append(t.rows, newRow(t, line, columns, fields))
	}
}

func newRow(t *table, line int, columns, fields []string) row {
	r := row{t: t, line: line, fields: map[string]string{}}
	for i, c := range columns {
		r.fields[c] = strings.TrimSpace(fields[i])
	}
	if slices.Contains(columns, "source") && r.text("source") == "" {
		r.fail("no source: say where the row comes from, if only \"judgement (prior)\"")
	}
	return r
}

// fail notes an error with file and line.
func (r row) fail(format string, args ...any) {
	r.t.errs = append(r.t.errs, fmt.Errorf("%s: %s", r.place(), fmt.Sprintf(format, args...)))
}

func (r row) place() string { return fmt.Sprintf("%s line %d", r.t.name, r.line) }

func (r row) text(column string) string { return r.fields[column] }

func (r row) need(column string) string {
	s := r.text(column)
	if s == "" {
		r.fail("%s is empty", column)
	}
	return s
}

// list splits a field at bars; "*" and empty give nil, which means all.
func (r row) list(column string) []string {
	s := r.text(column)
	if s == "" || s == "*" {
		return nil
	}
	var out []string
	for part := range strings.SplitSeq(s, "|") {
		out = append(out, strings.TrimSpace(part))
	}
	return out
}

// number reads a field that must lie in [low, high].
func (r row) number(column string, low, high float64) float64 {
	v, err := strconv.ParseFloat(r.text(column), 64)
	if err != nil || math.IsNaN(v) {
		r.fail("%s: %q is not a number", column, r.text(column))
		return low
	}
	if v < low || v > high {
		r.fail("%s: %g is outside %g to %g", column, v, low, high)
	}
	return v
}

// weights reads "name:0.3 name:0.7" into pairs in the order written.
func (r row) weights(column string) []Weight {
	var out []Weight
	for field := range strings.FieldsSeq(r.text(column)) {
		name, text, _ := strings.Cut(field, ":")
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v >= 0) || math.IsInf(v, 0) {
			r.fail("%s: %q is not a name and a share, write dead:0.6 weak:0.4", column, field)
			continue
		}
		out = append(out, Weight{name, v})
	}
	return out
}

// Weight is a named share.
type Weight struct {
	Name string
	P    float64
}

func sumWeights(ws []Weight) float64 {
	sum := 0.0
	for _, w := range ws {
		sum += w.P
	}
	return sum
}

// parseAll turns a column's words into values of a vocabulary.
func parseAll[T ~string](r row, column string, parse func(string) (T, error)) []T {
	var out []T
	for _, word := range r.list(column) {
		v, err := parse(word)
		if err != nil {
			r.fail("%s: %v", column, err)
			continue
		}
		out = append(out, v)
	}
	return out
}

func parseOne[T ~string](r row, column string, parse func(string) (T, error)) T {
	v, err := parse(r.text(column))
	if err != nil {
		r.fail("%s: %v", column, err)
	}
	return v
}
