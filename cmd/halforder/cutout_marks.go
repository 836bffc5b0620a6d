package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/reader/table"
)

// readMarks reads lines of a time, a verb and a cylinder or pair: "12.5 off 3",
// "17 on", "12.5 unplug injector 3", "17 reconnect injector 3". Other verbs of a
// practice script are passed over.
func readMarks(path string) ([]cutout.Mark, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return parseMarks(string(text), filepath.Base(path))
}

// errNoTime is of a line that does not begin with a time; the first such line may
// name columns.
var errNoTime = errors.New("not a time in seconds")

// parseMarks reads the text of a file of that name.
func parseMarks(text, name string) ([]cutout.Mark, error) {
	var out []cutout.Mark
	first := true
	for i, line := range strings.Split(strings.TrimPrefix(text, "\ufeff"), "\n") {
		words := markWords(line)
		if len(words) < 2 || strings.HasPrefix(words[0], "#") {
			continue
		}
		m, ok, err := parseMark(words)
		if err != nil && !(first && errors.Is(err, errNoTime)) {
			return nil, fmt.Errorf("%s, line %d: %w", name, i+1, err)
		}
		first = false
		if ok {
			out = append(out, m)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s holds no mark: expected lines such as '12.5 off 3' and '17 on'", name)
	}
	return out, nil
}

// markWords parts a line at blanks, semicolons and those commas that are no decimal
// ones: a comma beside a blank, or any where there is nothing else to part the line.
func markWords(line string) []string {
	words := strings.FieldsFunc(strings.ToLower(line), func(r rune) bool { return strings.ContainsRune("; \t\r", r) })
	if len(words) == 1 {
		words = strings.Split(words[0], ",")
	}
	var out []string
	for _, w := range words {
		if w = strings.Trim(w, `,"`); w != "" {
			out = append(out, w)
		}
	}
	return out
}

// markTime is a time in seconds, with a point or a comma, or as on a clock.
func markTime(text string) (float64, error) {
	if at, ok := table.ClockSeconds(text); ok {
		return at, nil
	}
	at, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(at) || math.IsInf(at, 0) {
		return 0, fmt.Errorf("%q is %w", text, errNoTime)
	}
	return at, nil
}

func parseMark(words []string) (m cutout.Mark, ok bool, err error) {
	if m.At, err = markTime(words[0]); err != nil {
		return m, false, err
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
		return m, err == nil, err
	}
	return m, false, nil
}

// fromBeginningToo brings marks of the recording's own clock to its beginning, which
// it calls began, s. Marks that lie wholly before count from the beginning anyway.
func fromBeginningToo(marks []cutout.Mark, began float64) {
	for _, m := range marks {
		if m.At < began-longSince {
			return
		}
	}
	for i := range marks {
		marks[i].At -= began
	}
}

// parseCalled reads cylinders and pairs, parted by commas, semicolons or blanks.
func parseCalled(text string) (out [][]engine.Cylinder, err error) {
	text = strings.Join(strings.Fields(strings.ReplaceAll(text, ";", ",")), " ")
	for _, tight := range []string{"+", ","} {
		text = strings.ReplaceAll(strings.ReplaceAll(text, " "+tight, tight), tight+" ", tight)
	}
	if text == "" {
		return nil, nil
	}
	for part := range strings.SplitSeq(strings.ReplaceAll(text, " ", ","), ",") {
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
