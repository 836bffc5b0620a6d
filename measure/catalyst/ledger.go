package catalyst

import (
	"fmt"
	"math"
	"time"

	"halforder/engine"
)

// Condition is what the engine does from a moment on.
type Condition struct {
	Load    Load              `json:"load"`
	FlowGPS float64           `json:"flow_gps,omitempty"` // measured air flow of the whole engine, g/s; 0: by Load
	NoSpark []engine.Cylinder `json:"no_spark,omitempty"` // get fuel and do not burn it: cut by spark, or dead
	NoFuel  []engine.Cylinder `json:"no_fuel,omitempty"`  // injector off
	Known   []engine.Cylinder `json:"known,omitempty"`    // those of both that are the fault itself, not a cut to be timed
}

// Bank is one catalyst in the books.
type Bank struct {
	Cylinders []engine.Cylinder `json:"cylinders"`
	RiseK     float64           `json:"rise_k"` // above the inlet, as the setting counts
	PeakK     float64           `json:"peak_k"`
}

// Ledger is the state of all catalysts of one car. Make it with New, or read
// it back from JSON and Check it.
type Ledger struct {
	Layout  engine.Layout `json:"layout"`
	Setting Setting       `json:"setting"`
	Banks   []Bank        `json:"banks"`

	At       time.Time `json:"at"` // of the last change; zero: nothing has happened
	Now      Condition `json:"now"`
	CutBegan time.Time `json:"cut_began"` // of the running cut, zero: none
	CutEnded time.Time `json:"cut_ended"` // of the last spark cut, zero: none

	SparkSeconds    float64 `json:"spark_seconds"`    // spark cuts of this visit
	InjectorSeconds float64 `json:"injector_seconds"` // injector cuts of this visit
}

// standingSeconds is the time constant of cooling with the engine off
// (judgement: half an hour).
const standingSeconds = 1800

// New opens the books. Every bank has its own catalyst; groups, when given, say
// otherwise (two catalysts on a straight six, one for both banks of a vee).
func New(l engine.Layout, s Setting, groups ...[]engine.Cylinder) (*Ledger, error) {
	if len(groups) == 0 {
		groups = l.Banks()
	}
	b := &Ledger{Layout: l, Setting: s, Now: Condition{Load: Stopped}}
	for _, g := range groups {
		b.Banks = append(b.Banks, Bank{Cylinders: append([]engine.Cylinder(nil), g...)})
	}
	return b, b.Check()
}

// Check says what makes the books unusable, after New or after reading them.
func (b *Ledger) Check() error {
	if !b.Layout.Valid() {
		return fmt.Errorf("catalyst books: no engine layout given")
	}
	if err := b.Setting.Check(); err != nil {
		return err
	}
	seen := map[engine.Cylinder]bool{}
	for _, bank := range b.Banks {
		for _, c := range bank.Cylinders {
			if err := b.Layout.Check(c); err != nil || seen[c] {
				return fmt.Errorf("catalyst books: cylinder %d stands twice or does not exist", c)
			}
			seen[c] = true
		}
		if !(bank.RiseK >= 0 && bank.RiseK < 1e5) {
			return fmt.Errorf("catalyst books: a rise of %g K is impossible", bank.RiseK)
		}
	}
	if len(seen) != b.Layout.N() {
		return fmt.Errorf("catalyst books: %d of %d cylinders have a catalyst", len(seen), b.Layout.N())
	}
	return b.Now.check(b.Layout)
}

func (c Condition) check(l engine.Layout) error {
	if _, ok := flowPerCylinder[c.Load]; !ok {
		return fmt.Errorf("catalyst books: load %q, expected %s, %s, %s or %s", c.Load, Stopped, Idle, Raised, Road)
	}
	if !(c.FlowGPS >= 0 && c.FlowGPS < 1000) {
		return fmt.Errorf("catalyst books: air flow %g g/s, expected 0 to 1000", c.FlowGPS)
	}
	for _, list := range [][]engine.Cylinder{c.NoSpark, c.NoFuel, c.Known} {
		for _, cyl := range list {
			if err := l.Check(cyl); err != nil {
				return err
			}
		}
	}
	return nil
}

// Set books what happened since the last call and goes on with c. A clock that
// went backwards counts as no time; a condition that names a cylinder the
// engine has not is refused and changes nothing.
func (b *Ledger) Set(at time.Time, c Condition) error {
	if err := c.check(b.Layout); err != nil {
		return err
	}
	b.advance(at)
	was, is := b.Now.cut(), c.cut()
	if is == noCut && was != noCut {
		b.CutBegan = time.Time{}
	}
	if was == sparkCut && is != sparkCut {
		b.CutEnded = b.At
	}
	if is != noCut && (was != is || !sameSet(b.Now.sparkCuts(), c.sparkCuts())) {
		b.CutBegan = b.At
	}
	b.Now = c
	return nil
}

// NewVisit starts the totals of a visit anew; heat and clock stay.
func (b *Ledger) NewVisit(at time.Time) {
	b.advance(at)
	b.SparkSeconds, b.InjectorSeconds = 0, 0
}

// advance books the time up to at under the present condition.
func (b *Ledger) advance(at time.Time) {
	seconds := at.Sub(b.At).Seconds()
	if b.At.IsZero() || at.Before(b.At) {
		seconds = 0
	}
	if b.At.IsZero() || at.After(b.At) {
		b.At = at
	}
	for i := range b.Banks {
		b.Banks[i].RiseK = b.riseAfter(i, b.Now, seconds)
		b.Banks[i].PeakK = max(b.Banks[i].PeakK, b.Banks[i].RiseK)
	}
	switch b.Now.cut() {
	case sparkCut:
		b.SparkSeconds += seconds
	case injectorCut:
		b.InjectorSeconds += seconds
	}
}

// riseAfter is the rise of bank i after seconds of condition c.
func (b *Ledger) riseAfter(i int, c Condition, seconds float64) float64 {
	flow, rise := b.flow(i, c), b.Banks[i].RiseK
	if flow <= 0 {
		return rise * math.Exp(-seconds/standingSeconds)
	}
	m, unburnt := b.model(i), b.unburnt(i, c)
	if m.Equilibrium(unburnt) < rise {
		seconds *= b.Setting.CoolFactor
	}
	return m.Rise(rise, unburnt, flow, seconds)
}

func (b *Ledger) model(i int) Model {
	return Model{BrickJPerK: BrickJPerK, Feeding: len(b.Banks[i].Cylinders)}
}

// flow through catalyst i in g/s.
func (b *Ledger) flow(i int, c Condition) float64 {
	m := float64(len(b.Banks[i].Cylinders))
	if c.FlowGPS > 0 && c.Load != Stopped {
		return c.FlowGPS * m / float64(b.Layout.N())
	}
	return flowPerCylinder[c.Load] * m
}

// unburnt is how many cylinders' fuel burns in catalyst i, as the setting counts.
func (b *Ledger) unburnt(i int, c Condition) (cylinders float64) {
	for _, cyl := range b.Banks[i].Cylinders {
		switch {
		case has(c.NoFuel, cyl):
			cylinders += b.Setting.InjectorShare * b.Setting.HeatFactor
		case has(c.NoSpark, cyl):
			cylinders += b.Setting.HeatFactor
		}
	}
	return cylinders
}

type cutKind int

const (
	noCut cutKind = iota
	injectorCut
	sparkCut
)

// cut is the worse kind of cut in force.
func (c Condition) cut() cutKind {
	switch {
	case c.Load == Stopped:
		return noCut
	case len(c.sparkCuts()) > 0:
		return sparkCut
	case len(without(c.NoFuel, c.Known)) > 0:
		return injectorCut
	}
	return noCut
}

// sparkCuts are the cylinders cut by spark with the fuel on, known faults left
// out: the fault runs whether or not one tests.
func (c Condition) sparkCuts() []engine.Cylinder {
	return without(without(c.NoSpark, c.Known), c.NoFuel)
}

func without(list, drop []engine.Cylinder) (out []engine.Cylinder) {
	for _, c := range list {
		if !has(drop, c) {
			out = append(out, c)
		}
	}
	return out
}

func has(list []engine.Cylinder, c engine.Cylinder) bool {
	for _, other := range list {
		if other == c {
			return true
		}
	}
	return false
}

func sameSet(a, b []engine.Cylinder) bool {
	if len(a) != len(b) {
		return false
	}
	for _, c := range a {
		if !has(b, c) {
			return false
		}
	}
	return true
}
