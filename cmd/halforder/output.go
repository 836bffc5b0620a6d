package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"halforder/report"
)

// printJSON writes v to standard output, indented, with a newline.
func (r *run) printJSON(v any) error {
	e := json.NewEncoder(r.Stdout)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// printLine prints text wrapped at 80 columns. What standard output does not take
// is seen when the program ends.
func (r *run) printLine(indent int, format string, args ...any) {
	_ = report.Line(r.Stdout, indent, fmt.Sprintf(format, args...))
}

// shown is a path as a person in this folder would type it: what lies below it
// without the way here.
func shown(path string) string {
	here, err := os.Getwd()
	if err != nil {
		return path
	}
	below, err := filepath.Rel(here, path)
	if err != nil || !filepath.IsLocal(below) {
		return path
	}
	return below
}

// writeFile writes a whole file or leaves the old one: never half of it.
func writeFile(path string, data []byte) error {
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(data)
	if err == nil {
		err = tmp.Chmod(0o644)
	}
	if closeErr := tmp.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}
