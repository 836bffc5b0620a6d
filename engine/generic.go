package engine

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strings"
	"sync"
)

//go:embed layouts.csv
var layoutsCSV string

// Generic is an engine known by name, and where its firing order comes from.
type Generic struct {
	Layout Layout
	Source string
}

// Generics lists the embedded layouts in the order of the data file.
func Generics() []Generic { return append([]Generic(nil), generics()...) }

// GenericNames lists the names Parse knows.
func GenericNames() []string {
	var out []string
	for _, g := range generics() {
		out = append(out, g.Layout.spec.Name)
	}
	return out
}

func genericSpec(name string) (Spec, bool) {
	for _, g := range generics() {
		if g.Layout.spec.Name == name {
			return g.Layout.spec.clone(), true
		}
	}
	return Spec{}, false
}

// generics reads the data file once. The file is ours and a test reads it, so
// a bad line is a programmer's error.
var generics = sync.OnceValue(func() []Generic {
	r := csv.NewReader(strings.NewReader(layoutsCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic("engine: layouts.csv: " + err.Error())
	}
	var out []Generic
	for _, row := range rows[1:] {
		g, err := readGeneric(row)
		if err != nil {
			panic(fmt.Sprintf("engine: layouts.csv: %s: %v", row[0], err))
		}
		out = append(out, g)
	}
	return out
})

func readGeneric(row []string) (Generic, error) {
	spec := Spec{Name: row[0], Title: row[1]}
	var err error
	if spec.Order, err = parseCylinders(row[2]); err != nil {
		return Generic{}, err
	}
	if row[3] != "" {
		if spec.Angles, err = parseAngles(row[3]); err != nil {
			return Generic{}, err
		}
	}
	if row[4] != "" {
		if spec.Banks, err = parseCylinderSets(row[4]); err != nil {
			return Generic{}, err
		}
	}
	layout, err := New(spec)
	return Generic{Layout: layout, Source: row[5]}, err
}
