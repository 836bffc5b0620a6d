package fault

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"halforder/engine"
)

// PartKind is a kind of part that has an identity and can be moved from one
// cylinder to another.
type PartKind string

// The kinds of movable parts. The second set exists on twin-plug engines and
// where a cylinder has both a port and a direct injector.
const (
	Coil           PartKind = "coil"
	Plug           PartKind = "plug"
	Boot           PartKind = "boot" // between a coil and the plug under it
	Lead           PartKind = "lead" // where coil and plug stand apart
	Injector       PartKind = "injector"
	SecondCoil     PartKind = "second coil"
	SecondPlug     PartKind = "second plug"
	SecondInjector PartKind = "second injector"
)

// PartKinds lists the valid kinds.
func PartKinds() []PartKind {
	return []PartKind{Coil, Plug, Boot, Lead, Injector, SecondCoil, SecondPlug, SecondInjector}
}

// ParsePartKind reads a kind of part; the error lists the valid ones.
func ParsePartKind(text string) (PartKind, error) {
	return parseWord("kind of part", text, PartKinds())
}

// KindsOf lists the movable parts a car has.
func KindsOf(ign Ignition, inj Injection) []PartKind {
	kinds := []PartKind{Coil, Plug}
	switch ign {
	case NearPlug, WastedSpark, Distributor:
		kinds = append(kinds, Lead)
	default:
		kinds = append(kinds, Boot)
	}
	if ign == TwinPlug {
		kinds = append(kinds, SecondCoil, SecondPlug)
	}
	kinds = append(kinds, Injector)
	if inj == Both {
		kinds = append(kinds, SecondInjector)
	}
	return kinds
}

// PartID is the identity of one part, "coil C". It stays with the part.
type PartID string

// Seating says which part sits at which cylinder: for each kind the part ids by
// cylinder − 1. A wasted-spark coil sits at both its cylinders, the coil of a
// distributor at all of them, a rail of coils at those of its bank.
type Seating map[PartKind][]PartID

// FirstSeating names the parts a car arrives with: coil A at cylinder 1, and so
// on. Shared coils, and the rail that holds the coils of a bank, get the letter
// of their lowest cylinder.
func FirstSeating(l engine.Layout, ign Ignition, inj Injection) Seating {
	s := Seating{}
	for _, kind := range KindsOf(ign, inj) {
		ids := make([]PartID, l.N())
		for _, c := range l.Cylinders() {
			ids[c-1] = FirstID(kind, lowestSharer(l, ign, kind, c))
		}
		s[kind] = ids
	}
	return s
}

// FirstID is the id of the part that sits at c when the car arrives.
func FirstID(kind PartKind, c engine.Cylinder) PartID {
	return PartID(fmt.Sprintf("%s %c", kind, 'A'+rune(c-1)))
}

func lowestSharer(l engine.Layout, ign Ignition, kind PartKind, c engine.Cylinder) engine.Cylinder {
	if kind != Coil {
		return c
	}
	switch ign {
	case Distributor:
		return 1
	case Cassette:
		return slices.Min(l.Banks()[l.Bank(c)])
	}
	if mate, ok := l.Companion(c); ok && ign == WastedSpark {
		return min(c, mate)
	}
	return c
}

// Clone is a copy that can be changed freely.
func (s Seating) Clone() Seating {
	out := make(Seating, len(s))
	for kind, ids := range s {
		out[kind] = slices.Clone(ids)
	}
	return out
}

// Equal reports whether the same parts sit in the same places.
func (s Seating) Equal(other Seating) bool {
	return maps.EqualFunc(s, other, func(a, b []PartID) bool { return slices.Equal(a, b) })
}

// At is the part of a kind that sits at c, empty where the car has none.
func (s Seating) At(kind PartKind, c engine.Cylinder) PartID {
	if ids := s[kind]; c >= 1 && int(c) <= len(ids) {
		return ids[c-1]
	}
	return ""
}

// Where lists the cylinders at which a part sits, none if it lies on the bench.
func (s Seating) Where(kind PartKind, id PartID) []engine.Cylinder {
	var out []engine.Cylinder
	for i, at := range s[kind] {
		if at == id {
			out = append(out, engine.Cylinder(i+1))
		}
	}
	return out
}

// Swapped is the seating after the parts of one kind at a and b changed places.
// Shared parts change all their places. The error says why nothing can be
// swapped.
func (s Seating) Swapped(kind PartKind, a, b engine.Cylinder) (Seating, error) {
	x, y := s.At(kind, a), s.At(kind, b)
	switch {
	case a == b:
		return nil, fmt.Errorf("swap of the %s at cylinder %d with itself: name two different cylinders", kind, a)
	case x == "":
		return nil, fmt.Errorf("swap: this car has no %s at cylinder %d", kind, a)
	case y == "":
		return nil, fmt.Errorf("swap: this car has no %s at cylinder %d", kind, b)
	case x == y:
		return nil, fmt.Errorf("swap: cylinders %d and %d share one %s (%s), choose another cylinder", a, b, kind, x)
	}
	out := s.Clone()
	for i, id := range s[kind] {
		switch id {
		case x:
			out[kind][i] = y
		case y:
			out[kind][i] = x
		}
	}
	return out, nil
}

// Renewed is the seating after the part at c made way for the part id.
func (s Seating) Renewed(kind PartKind, c engine.Cylinder, id PartID) (Seating, error) {
	old := s.At(kind, c)
	if old == "" {
		return nil, fmt.Errorf("renewal: this car has no %s at cylinder %d", kind, c)
	}
	if id == "" || len(s.Where(kind, id)) > 0 {
		return nil, fmt.Errorf("renewal of the %s at cylinder %d: the new part needs an id of its own, got %q", kind, c, id)
	}
	out := s.Clone()
	for i, at := range s[kind] {
		if at == old {
			out[kind][i] = id
		}
	}
	return out, nil
}

// Check reports what makes the seating impossible on an engine of n cylinders.
func (s Seating) Check(n int) error {
	for kind, ids := range s {
		if len(ids) != n {
			return fmt.Errorf("seating of the %s: %d places given, the engine has %d cylinders", kind, len(ids), n)
		}
		if slices.Contains(ids, "") {
			return errors.New("seating: a place without a part, leave the kind out or name the part")
		}
	}
	return nil
}
