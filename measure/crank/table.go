package crank

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"regexp"
	"slices"
	"sort"
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

// tolerance is how far marks may differ from the table, degrees, on average;
// single ones may twice as far. Learnt marks are off by the engine's
// unevenness, most while cranking.
type tolerance float64

const (
	whileRunning  tolerance = 3
	whileCranking tolerance = 17
)

// recogniseWheel looks the wheel up in the table; a known one replaces learnt
// mark angles by its own.
func (a *analysis) recogniseWheel(t tolerance) {
	for _, w := range knownWheels() {
		want, err := engine.Parse(w.order)
		if err != nil || !sameFiring(want, a.setup.Layout) {
			continue
		}
		if turned, ok := w.fit(a.clock, t); ok {
			a.known = &w
			a.clock.adopt(w, turned)
			return
		}
	}
}

// references are those given, else the table's.
func (a *analysis) references() []Reference {
	if len(a.setup.References) > 0 || a.known == nil || a.noTable {
		return a.setup.References
	}
	if a.byTable {
		return []Reference{a.known.reference}
	}
	a.byTable = true
	a.notes = append(a.notes, fmt.Sprintf("Cylinders named by the built-in wheel table (%s; %s). Another engine may carry the same marks otherwise: the names are believed to %.0f %%. One cut of a known cylinder makes sure.",
		a.known.name, a.known.source, 100*tableTrust))
	return []Reference{a.known.reference}
}

// leaveOutTable takes back that the wheel table names cylinders, and the note on it.
func (a *analysis) leaveOutTable() {
	if a.byTable {
		a.byTable, a.noTable = false, true
		a.notes = a.notes[:len(a.notes)-1]
	}
}

// cylinderNamed is a cylinder called by its number in a sentence.
var cylinderNamed = regexp.MustCompile(`ylinder \d`)

// asFitted says of a sentence that names a cylinder on what the name hangs when
// only the wheel table ties the marks to it.
func (a *analysis) asFitted(sentence string) string {
	if !a.byTable || !cylinderNamed.MatchString(sentence) {
		return sentence
	}
	return "If this wheel is mounted as in the built-in table: " + strings.ToLower(sentence[:1]) + sentence[1:] + " One cut of a known cylinder makes sure."
}

// adopt takes mark angles and cam edges of a known wheel in place of learnt
// ones. The wheel's first mark is mark turned of the clock's cycle.
func (c *clock) adopt(w knownWheel, turned int) {
	m := len(w.marks)
	c.camRef = 0
	at := 0.0
	for k := range 2 * m {
		c.angles[k] = at
		if k == turned {
			c.camRef = at - w.firstMark
		}
		at += w.marks[wrapIndex(k-turned, m)]
	}
	first := c.wheelMark()
	angles := make([]float64, m)
	for k := range m {
		angles[(first+k)%m] = c.angles[k]
	}
	offset := angles[0]
	for k := range angles {
		angles[k] = math.Mod(angles[k]-offset+turnDeg, turnDeg)
	}
	c.wheel.Angles, c.fromGap, c.nominal, c.hasRef = angles, math.Mod(turnDeg-offset, turnDeg), true, true
	c.camRef = wrapCycle(c.camRef)
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

// fit finds which mark of the clock's cycle is the wheel's first: the cam edges
// must fall between the same marks, which no unevenness of speed can change.
// ok is false unless just one place fits.
func (w knownWheel) fit(c *clock, t tolerance) (turned int, ok bool) {
	if !c.wheel.Learn || len(c.wheel.Angles) != len(w.marks) || len(c.camEdges) != len(w.cam) {
		return 0, false
	}
	n := len(c.angles)
	have := intervalsOf(c.angles, c.camEdges)
	var marks, cam []float64
	at := 0.0
	for k := range n {
		marks = append(marks, at)
		at += w.marks[k%len(w.marks)]
	}
	for _, e := range w.cam {
		cam = append(cam, wrapCycle(e-w.firstMark))
	}
	want := intervalsOf(marks, cam)
	found := 0
	for r := range n {
		if w.stepsFit(c, r, t) && slices.Equal(sorted(shifted(want, r, n)), sorted(have)) {
			turned = r
			found++
		}
	}
	return turned, found == 1
}

// intervalsOf is after which mark each edge comes.
func intervalsOf(marks, edges []float64) []int {
	var out []int
	for _, e := range edges {
		out = append(out, wrapIndex(sort.SearchFloat64s(marks, e)-1, len(marks)))
	}
	return out
}

func shifted(v []int, by, n int) []int {
	out := make([]int, len(v))
	for i, x := range v {
		out[i] = (x + by) % n
	}
	return out
}

func (w knownWheel) stepsFit(c *clock, turned int, t tolerance) bool {
	n := len(c.angles)
	sum, most := 0.0, 0.0
	for k := range n {
		step, _ := turnStep(c.angles, make([]float64, n), (k+turned)%n)
		off := math.Abs(step - w.marks[k%len(w.marks)])
		sum += off / float64(n)
		most = max(most, off)
	}
	return sum <= float64(t) && most <= 2*float64(t)
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
