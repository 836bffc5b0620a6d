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

// tolerance is how far marks and cam edges may differ from the table, degrees:
// learnt marks are off by the engine's unevenness, most while cranking.
type tolerance struct{ marks, cam float64 }

var (
	whileRunning  = tolerance{4, 6}
	whileCranking = tolerance{14, 22}
)

// recogniseWheel looks the wheel up in the table; a known one replaces learnt
// mark angles by its own.
func (a *analysis) recogniseWheel(t tolerance) {
	for _, w := range knownWheels() {
		want, err := engine.Parse(w.order)
		if err == nil && sameFiring(want, a.setup.Layout) && w.fits(a.clock, t) {
			a.known = &w
			a.clock.adopt(w)
			return
		}
	}
}

// references are those given, else the table's.
func (a *analysis) references() []Reference {
	if len(a.setup.References) > 0 || a.known == nil || a.noTable {
		return a.setup.References
	}
	a.notes = append(a.notes, fmt.Sprintf("Cylinders named by the built-in wheel table (%s; %s). One cut of a known cylinder confirms it.",
		a.known.name, a.known.source))
	return []Reference{a.known.reference}
}

// adopt takes the mark angles of a known wheel in place of learnt ones.
func (c *clock) adopt(w knownWheel) {
	if !c.wheel.Learn {
		return
	}
	m := len(w.marks)
	first := c.wheelMark()
	at := 0.0
	for k := range 2 * m {
		c.angles[k] = at
		at += w.marks[k%m]
	}
	angles := make([]float64, m)
	for k := range m {
		angles[(first+k)%m] = c.angles[k]
	}
	offset := angles[0]
	for k := range angles {
		angles[k] = math.Mod(angles[k]-offset+turnDeg, turnDeg)
	}
	c.wheel.Angles, c.fromGap, c.nominal = angles, math.Mod(turnDeg-offset, turnDeg), true
	c.camRef = wrapCycle(-w.firstMark)
	c.camEdges = c.camEdges[:0]
	for _, e := range w.cam {
		c.camEdges = append(c.camEdges, wrapCycle(c.camRef+e))
	}
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

func (w knownWheel) fits(c *clock, t tolerance) bool {
	if !c.hasRef || len(c.camEdges) != len(w.cam) || len(c.wheel.Angles) != len(w.marks) {
		return false
	}
	for k, step := range w.marks {
		if math.Abs(c.angles[k+1]-c.angles[k]-step) > t.marks {
			return false
		}
	}
	if math.Abs(math.Remainder(-c.camRef-w.firstMark, cycleDeg)) > t.cam {
		return false
	}
	for _, e := range w.cam {
		near := math.Inf(1)
		for _, have := range c.camEdges {
			near = min(near, math.Abs(math.Remainder(have-c.camRef-e, cycleDeg)))
		}
		if near > t.cam {
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
	a.setup.References, a.noTable = nil, true // the geometry may be known, the names are what is sought
	a.weigh()
	a.judge()
	dead := a.lowSlots(finding.Dead)
	if len(dead) != 1 {
		return Reference{}, fmt.Errorf("the recording with cylinder %d cut does not show just one dead cylinder but %d: %s",
			cut, len(dead), a.describePattern(a.post.best))
	}
	return Reference{cut, wrapCycle(a.tops[dead[0]] - a.clock.camRef), FromCam}, nil
}
