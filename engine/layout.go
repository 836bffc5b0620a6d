package engine

import (
	"fmt"
	"math"
	"slices"
)

// MaxCylinders is the largest engine a Layout describes.
const MaxCylinders = 16

// sameAngle is how far two firing angles may differ and still count as equal,
// in crank degrees: far below any real tolerance, far above rounding.
const sameAngle = 0.01

// Cylinder is the maker's number of a cylinder, from 1.
type Cylinder int

// Spec says what an engine is, as a person would type it. Only Order is needed.
type Spec struct {
	Name   string       // generic name, empty for an engine of one's own
	Title  string       // words for a person
	Order  []Cylinder   // firing order in the maker's numbers
	Angles []CrankDeg   // when each of Order fires, first is 0, ascending; nil: even
	Banks  [][]Cylinder // each from front to rear; nil: one bank in number order

	CoilFeeds   [][]Cylinder // cylinders whose coils share a fuse, relay or ground
	DriverPairs [][]Cylinder // cylinders whose injectors share a driver
	CutSet      []Cylinder   // cylinders the engine can switch off
}

// Layout is a checked engine description. It is immutable; the zero value is
// not an engine (Valid reports false).
type Layout struct {
	spec     Spec
	position []int // by cylinder − 1: place in the firing order
	bank     []int // by cylinder − 1: index into Banks
}

// New checks a Spec and returns its Layout. The error names the first thing
// wrong and what was expected.
func New(s Spec) (Layout, error) {
	n := len(s.Order)
	if n < 1 || n > MaxCylinders {
		return Layout{}, fmt.Errorf("an engine has 1 to %d cylinders, the firing order lists %d", MaxCylinders, n)
	}
	l := Layout{spec: s.clone(), position: make([]int, n), bank: make([]int, n)}
	if err := fillIndex("firing order", l.position, [][]Cylinder{s.Order}, func(_, k int) int { return k }); err != nil {
		return Layout{}, err
	}
	if err := l.setAngles(); err != nil {
		return Layout{}, err
	}
	if len(l.spec.Banks) == 0 {
		l.spec.Banks = [][]Cylinder{l.Cylinders()}
	}
	if err := fillIndex("banks", l.bank, l.spec.Banks, func(b, _ int) int { return b }); err != nil {
		return Layout{}, err
	}
	return l, l.checkSets()
}

func (s Spec) clone() Spec {
	s.Order, s.Angles, s.CutSet = slices.Clone(s.Order), slices.Clone(s.Angles), slices.Clone(s.CutSet)
	s.Banks, s.CoilFeeds, s.DriverPairs = cloneSets(s.Banks), cloneSets(s.CoilFeeds), cloneSets(s.DriverPairs)
	return s
}

func cloneSets(sets [][]Cylinder) [][]Cylinder {
	out := make([][]Cylinder, 0, len(sets))
	for _, set := range sets {
		out = append(out, slices.Clone(set))
	}
	return out
}

// fillIndex stores value(set, place) for each cylinder and checks that every
// cylinder from 1 to len(dst) stands in the sets exactly once.
func fillIndex(what string, dst []int, sets [][]Cylinder, value func(set, place int) int) error {
	seen := make([]bool, len(dst))
	for i, set := range sets {
		for k, c := range set {
			if c < 1 || int(c) > len(dst) {
				return fmt.Errorf("%s: cylinder %d does not exist, this engine has 1 to %d", what, c, len(dst))
			}
			if seen[c-1] {
				return fmt.Errorf("%s: cylinder %d stands there twice", what, c)
			}
			seen[c-1], dst[c-1] = true, value(i, k)
		}
	}
	if missing := slices.Index(seen, false); missing >= 0 {
		return fmt.Errorf("%s: cylinder %d is missing", what, missing+1)
	}
	return nil
}

func (l *Layout) setAngles() error {
	n := l.N()
	if len(l.spec.Angles) == 0 {
		for k := range n {
			l.spec.Angles = append(l.spec.Angles, CycleDeg*CrankDeg(k)/CrankDeg(n))
		}
		return nil
	}
	if len(l.spec.Angles) != n {
		return fmt.Errorf("firing angles: %d given for %d cylinders", len(l.spec.Angles), n)
	}
	if l.spec.Angles[0] != 0 {
		return fmt.Errorf("firing angles: the first must be 0, got %g", float64(l.spec.Angles[0]))
	}
	for k := range n {
		// Negated so that NaN fails too. Twins of 0° apart (two firing at once) are allowed.
		if a := l.spec.Angles[k]; !(a < CycleDeg) || k > 0 && !(a >= l.spec.Angles[k-1]) {
			return fmt.Errorf("firing angles: must rise and stay below 720, got %g at place %d", float64(a), k+1)
		}
	}
	return nil
}

func (l Layout) checkSets() error {
	for _, g := range []struct {
		what string
		sets [][]Cylinder
	}{{"coil feeds", l.spec.CoilFeeds}, {"driver pairs", l.spec.DriverPairs}, {"cut set", [][]Cylinder{l.spec.CutSet}}} {
		seen := map[Cylinder]bool{}
		for _, set := range g.sets {
			for _, c := range set {
				if err := l.Check(c); err != nil {
					return fmt.Errorf("%s: %w", g.what, err)
				}
				if seen[c] {
					return fmt.Errorf("%s: cylinder %d stands there twice", g.what, c)
				}
				seen[c] = true
			}
		}
	}
	return nil
}

// Valid reports whether l was made by New, Parse or Generic.
func (l Layout) Valid() bool { return len(l.spec.Order) > 0 }

// N is the number of cylinders.
func (l Layout) N() int { return len(l.spec.Order) }

// Title is what to call the engine before a person.
func (l Layout) Title() string {
	if l.spec.Title != "" {
		return l.spec.Title
	}
	return fmt.Sprintf("%d cylinders, firing order %s", l.N(), joinCylinders(l.spec.Order))
}

// Check returns an error that says which cylinders exist when c does not.
func (l Layout) Check(c Cylinder) error {
	if c < 1 || int(c) > l.N() {
		return fmt.Errorf("cylinder %d does not exist, this engine has 1 to %d", c, l.N())
	}
	return nil
}

// Cylinders lists the maker's numbers in ascending order.
func (l Layout) Cylinders() []Cylinder {
	out := make([]Cylinder, l.N())
	for i := range out {
		out[i] = Cylinder(i + 1)
	}
	return out
}

// Order is the firing order in the maker's numbers.
func (l Layout) Order() []Cylinder { return slices.Clone(l.spec.Order) }

// Angles are the firing angles in firing order, the first 0, in [0, 720).
func (l Layout) Angles() []CrankDeg { return slices.Clone(l.spec.Angles) }

// At is the cylinder at a firing position; positions wrap around the cycle.
func (l Layout) At(position int) Cylinder {
	n := l.N()
	return l.spec.Order[((position%n)+n)%n]
}

// Position is the place of c in the firing order, from 0. It panics when c
// does not exist: Check what comes from outside first.
func (l Layout) Position(c Cylinder) int { return l.position[c-1] }

// Angle is the crank angle at which c fires, after the first in the order.
func (l Layout) Angle(c Cylinder) CrankDeg { return l.spec.Angles[l.Position(c)] }

// Interval is the crank angle from a firing position to the next firing.
func (l Layout) Interval(position int) CrankDeg {
	n := l.N()
	k := ((position % n) + n) % n
	if k == n-1 {
		return CycleDeg - l.spec.Angles[k]
	}
	return l.spec.Angles[k+1] - l.spec.Angles[k]
}

// Even reports whether all firing intervals are equal.
func (l Layout) Even() bool {
	mean := float64(CycleDeg) / float64(l.N())
	for k := range l.N() {
		if math.Abs(float64(l.Interval(k))-mean) > sameAngle {
			return false
		}
	}
	return true
}
