package engine

import "fmt"

// GroupKind says why cylinders belong together.
type GroupKind string

// The kinds of shared things a layout knows.
const (
	BankGroup      GroupKind = "bank"
	CompanionGroup GroupKind = "companions"
	CoilFeedGroup  GroupKind = "coil feed"
	DriverGroup    GroupKind = "injector driver"
	CutSetGroup    GroupKind = "cut set"
)

// Group is a set of cylinders that share something.
type Group struct {
	Kind      GroupKind
	Name      string // unique within the layout, "bank 1"
	Cylinders []Cylinder
}

// Groups lists every set the layout knows: banks (when more than one),
// companion pairs, coil feeds, injector-driver pairs and the cut set.
func (l Layout) Groups() []Group {
	var out []Group
	if len(l.spec.Banks) > 1 {
		out = append(out, named(BankGroup, l.spec.Banks)...)
	}
	out = append(out, named(CompanionGroup, l.CompanionPairs())...)
	out = append(out, named(CoilFeedGroup, l.spec.CoilFeeds)...)
	out = append(out, named(DriverGroup, l.spec.DriverPairs)...)
	if len(l.spec.CutSet) > 0 {
		out = append(out, Group{CutSetGroup, string(CutSetGroup), l.CutSet()})
	}
	return out
}

func named(kind GroupKind, sets [][]Cylinder) []Group {
	var out []Group
	for i, set := range cloneSets(sets) {
		out = append(out, Group{kind, fmt.Sprintf("%s %d", kind, i+1), set})
	}
	return out
}

// CompanionPairs lists the pairs that fire one crank turn apart, each once, in
// firing order.
func (l Layout) CompanionPairs() [][]Cylinder {
	var out [][]Cylinder
	for k, c := range l.spec.Order {
		if mate, ok := l.Companion(c); ok && l.Position(mate) > k {
			out = append(out, []Cylinder{c, mate})
		}
	}
	return out
}

// CoilFeeds lists the sets of cylinders whose coils share a supply.
func (l Layout) CoilFeeds() [][]Cylinder { return cloneSets(l.spec.CoilFeeds) }

// DriverPairs lists the sets of cylinders whose injectors share a driver.
func (l Layout) DriverPairs() [][]Cylinder { return cloneSets(l.spec.DriverPairs) }

// CutSet lists the cylinders the engine can switch off, none if it cannot.
func (l Layout) CutSet() []Cylinder { return append([]Cylinder(nil), l.spec.CutSet...) }
