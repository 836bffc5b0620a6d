package crank

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"halforder/engine"
	"halforder/finding"
)

//go:embed wheels.csv
var wheelsCSV string

// knownWheel is a line of wheels.csv.
type knownWheel struct {
	name      string
	order     string
	marks     []float64
	cam       []float64
	firstMark float64
	reference Reference
	source    string
}

// knownWheels reads the data file once; it is ours and a test reads it, so a
// bad line is a programmer's error.
var knownWheels = sync.OnceValue(func() []knownWheel {
	r := csv.NewReader(strings.NewReader(wheelsCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic("crank: wheels.csv: " + err.Error())
	}
	var out []knownWheel
	for _, row := range rows[1:] {
		w := knownWheel{name: row[0], order: row[1], marks: mustFloats(row[2]), cam: mustFloats(row[3]),
			firstMark: mustFloats(row[4])[0], source: row[7]}
		if w.reference, err = ParseReference(row[5]+":"+row[6], FromCam); err != nil {
			panic("crank: wheels.csv: " + err.Error())
		}
		out = append(out, w)
	}
	return out
})

func mustFloats(text string) []float64 {
	var out []float64
	for f := range strings.SplitSeq(text, "-") {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			panic("crank: wheels.csv: " + err.Error())
		}
		out = append(out, v)
	}
	return out
}

// How far a wheel may differ from the table, degrees: learnt marks are off by
// the engine's unevenness, a fixed cam by little.
const (
	markTolerance = 4
	camTolerance  = 6
)

// lookUp finds the reference of a known wheel, with a note for the person.
func lookUp(c *clock, l engine.Layout) (Reference, string, bool) {
	for _, w := range knownWheels() {
		want, err := engine.Parse(w.order)
		if err != nil || !sameFiring(want, l) || !w.fits(c) {
			continue
		}
		note := fmt.Sprintf("Cylinders named by the built-in wheel table (%s; %s). One cut of a known cylinder confirms it.", w.name, w.source)
		return w.reference, note, true
	}
	return Reference{}, "", false
}

func sameFiring(a, b engine.Layout) bool {
	if a.N() != b.N() {
		return false
	}
	for k := range a.N() {
		if a.At(k) != b.At(k) || a.Interval(k) != b.Interval(k) {
			return false
		}
	}
	return true
}

func (w knownWheel) fits(c *clock) bool {
	if !c.hasRef || len(c.camEdges) != len(w.cam) || len(c.wheel.Angles) != len(w.marks) {
		return false
	}
	for k, step := range w.marks {
		if math.Abs(c.angles[k+1]-c.angles[k]-step) > markTolerance {
			return false
		}
	}
	if math.Abs(math.Remainder(-c.camRef-w.firstMark, cycleDeg)) > camTolerance {
		return false
	}
	for _, e := range w.cam {
		near := math.Inf(1)
		for _, have := range c.camEdges {
			near = min(near, math.Abs(math.Remainder(have-c.camRef-e, cycleDeg)))
		}
		if near > camTolerance {
			return false
		}
	}
	return true
}

// LearnReference finds where a cylinder fires after the cam reference edge from
// a recording in which just that cylinder was cut or known dead.
func LearnReference(s Setup, rec Recording, cut engine.Cylinder) (Reference, error) {
	if err := s.Layout.Check(cut); err != nil {
		return Reference{}, err
	}
	a, err := prepare(s, rec)
	if err != nil {
		return Reference{}, err
	}
	if !a.clock.hasRef {
		return Reference{}, fmt.Errorf("learning from the cut of cylinder %d needs a cam edge or another mark of the cycle in the recording", cut)
	}
	a.setup.References, a.noTable = nil, true
	a.weigh()
	a.judge()
	dead := a.lowSlots(finding.Dead)
	if len(dead) != 1 {
		return Reference{}, fmt.Errorf("the recording with cylinder %d cut does not show just one dead cylinder but %d: %s",
			cut, len(dead), a.describePattern(a.post.best))
	}
	return Reference{cut, wrapCycle(a.tops[dead[0]] - a.clock.camRef), FromCam}, nil
}
