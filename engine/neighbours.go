package engine

import (
	"math"
	"slices"
)

// Bank is the index of the bank c belongs to, from 0.
func (l Layout) Bank(c Cylinder) int { return l.bank[c-1] }

// Banks lists the cylinders of each bank from front to rear.
func (l Layout) Banks() [][]Cylinder { return cloneSets(l.spec.Banks) }

// Companion is the cylinder that fires exactly one crank turn from c, the
// partner on a wasted-spark coil. Uneven and odd-numbered engines may have none.
func (l Layout) Companion(c Cylinder) (Cylinder, bool) {
	want := (l.Angle(c) + CycleDeg/2).WrapCycle()
	for _, other := range l.spec.Order {
		if other != c && math.Abs(float64(l.Angle(other)-want)) < sameAngle {
			return other, true
		}
	}
	return 0, false
}

// FiringNeighbours are the cylinders that fire just before and just after c. A
// single-cylinder engine is its own neighbour.
func (l Layout) FiringNeighbours(c Cylinder) (before, after Cylinder) {
	k := l.Position(c)
	return l.At(k - 1), l.At(k + 1)
}

// BlockNeighbours are the cylinders next to c in its own bank, front one first.
func (l Layout) BlockNeighbours(c Cylinder) []Cylinder {
	bank := l.spec.Banks[l.Bank(c)]
	i := slices.Index(bank, c)
	var out []Cylinder
	if i > 0 {
		out = append(out, bank[i-1])
	}
	if i+1 < len(bank) {
		out = append(out, bank[i+1])
	}
	return out
}
