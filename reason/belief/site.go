package belief

import (
	"fmt"
	"math/bits"

	"halforder/engine"
	"halforder/reason/fault"
)

// Site is where a fault sits: in a part, which moves, or at a place.
type Site struct {
	Kind      fault.PartKind    `json:"kind,omitempty"` // of a part
	Part      fault.PartID      `json:"part,omitempty"`
	Lives     fault.Lives       `json:"lives"`
	Inside    engine.Cylinder   `json:"inside,omitempty"` // of a rail of coils: only what serves this cylinder
	Cylinders []engine.Cylinder `json:"cylinders"`        // a part's: where it sat on arrival, none for a new one
	Name      string            `json:"name"`             // "coil C", "cylinder 3", "bank 1"

	share float64 // of the prior of a cause
}

// mask is a set of cylinders, bit c−1 for cylinder c.
type mask uint32

func maskOf(cylinders []engine.Cylinder) mask {
	var m mask
	for _, c := range cylinders {
		m |= 1 << (c - 1)
	}
	return m
}

func (m mask) cylinders() []engine.Cylinder {
	var out []engine.Cylinder
	for ; m != 0; m &= m - 1 {
		out = append(out, engine.Cylinder(bits.TrailingZeros32(uint32(m))+1))
	}
	return out
}

func (m mask) has(c engine.Cylinder) bool { return m>>(c-1)&1 == 1 }

func (m mask) wide() bool { return bits.OnesCount32(uint32(m)) > 1 }

// sitesOf lists where a cause can sit in a car. Parts are those on arrival and
// then the new ones.
func (m *model) sitesOf(x *fault.Cause) []Site {
	switch x.Lives {
	case fault.InCoil:
		if m.car.Ignition == fault.Cassette {
			return m.railSites()
		}
		return m.partSites(x.Lives, fault.Coil, fault.SecondCoil)
	case fault.InPlug:
		return m.partSites(x.Lives, fault.Plug, fault.SecondPlug)
	case fault.InBoot:
		return m.partSites(x.Lives, fault.Boot, fault.Lead)
	case fault.InInjector:
		return m.partSites(x.Lives, fault.Injector, fault.SecondInjector)
	}
	var out []Site
	for _, set := range m.placesOf(x.Lives) {
		out = append(out, placeSite(x.Lives, set, m.car.Layout))
	}
	return out
}

func (m *model) partSites(lives fault.Lives, kinds ...fault.PartKind) []Site {
	var out []Site
	for _, kind := range kinds {
		seen := map[fault.PartID]bool{}
		for _, id := range append(append([]fault.PartID{}, m.first[kind]...), m.fresh[kind]...) {
			if !seen[id] {
				seen[id] = true
				out = append(out, Site{Kind: kind, Part: id, Lives: lives, Cylinders: m.first.Where(kind, id), Name: string(id), share: 1})
			}
		}
	}
	return out
}

// railSites are the single coils inside each rail, and each rail as a whole.
func (m *model) railSites() []Site {
	whole := m.cat.Setting("rail-whole")
	var out []Site
	for _, rail := range m.partSites(fault.InCoil, fault.Coil) {
		at := m.first.Where(fault.Coil, rail.Part)
		if len(at) == 0 {
			at = m.freshAt[rail.Part]
		}
		n := float64(len(at))
		for _, c := range at {
			one := rail
			one.Inside, one.share = c, 1-whole
			if one.Name = fmt.Sprintf("%s, cylinder %d", rail.Part, c); len(rail.Cylinders) > 0 {
				one.Cylinders = []engine.Cylinder{c}
			}
			out = append(out, one)
		}
		rail.share = whole * n
		out = append(out, rail)
	}
	return out
}

// placesOf lists the sets of cylinders that a home stands for.
func (m *model) placesOf(lives fault.Lives) [][]engine.Cylinder {
	l := m.car.Layout
	switch lives {
	case fault.AtCylinder:
		return singles(l)
	case fault.AtCoilSeat:
		return m.coilSeats()
	case fault.AtNeighbours:
		return neighbourPairs(l)
	case fault.AtConsecutive:
		return consecutivePairs(l)
	case fault.AtCompanions:
		return l.CompanionPairs()
	case fault.AtFeed:
		return orElse(l.CoilFeeds(), orElse(severalBanks(l), [][]engine.Cylinder{l.Cylinders()}))
	case fault.AtDriver:
		return l.DriverPairs()
	case fault.AtCutSet:
		if set := l.CutSet(); len(set) > 0 {
			return [][]engine.Cylinder{set}
		}
		return nil
	case fault.AtBank:
		return l.Banks()
	case fault.Nowhere:
		return [][]engine.Cylinder{nil}
	}
	return [][]engine.Cylinder{l.Cylinders()}
}

func orElse(sets, other [][]engine.Cylinder) [][]engine.Cylinder {
	if len(sets) > 0 {
		return sets
	}
	return other
}

func severalBanks(l engine.Layout) [][]engine.Cylinder {
	if banks := l.Banks(); len(banks) > 1 {
		return banks
	}
	return nil
}

func singles(l engine.Layout) [][]engine.Cylinder {
	var out [][]engine.Cylinder
	for _, c := range l.Cylinders() {
		out = append(out, []engine.Cylinder{c})
	}
	return out
}

// coilSeats are the places of the coils: a shared coil has one for all, a coil
// in a rail one of its own.
func (m *model) coilSeats() [][]engine.Cylinder {
	if m.car.Ignition == fault.Cassette {
		return singles(m.car.Layout)
	}
	var out [][]engine.Cylinder
	for _, s := range m.partSites(fault.InCoil, fault.Coil) {
		if len(s.Cylinders) > 0 {
			out = append(out, s.Cylinders)
		}
	}
	return out
}

func neighbourPairs(l engine.Layout) [][]engine.Cylinder {
	var out [][]engine.Cylinder
	for _, bank := range l.Banks() {
		for i := 1; i < len(bank); i++ {
			out = append(out, []engine.Cylinder{bank[i-1], bank[i]})
		}
	}
	return out
}

func consecutivePairs(l engine.Layout) [][]engine.Cylinder {
	var out [][]engine.Cylinder
	for k := range l.N() {
		if pair := []engine.Cylinder{l.At(k), l.At(k + 1)}; pair[0] != pair[1] && (l.N() > 2 || k == 0) {
			out = append(out, pair)
		}
	}
	return out
}

func placeSite(lives fault.Lives, set []engine.Cylinder, l engine.Layout) Site {
	set = maskOf(set).cylinders()
	return Site{Lives: lives, Cylinders: set, Name: placeName(lives, set, l), share: 1}
}

func placeName(lives fault.Lives, set []engine.Cylinder, l engine.Layout) string {
	switch {
	case lives == fault.Nowhere:
		return "no cylinder"
	case lives == fault.AtBank && len(l.Banks()) > 1:
		return fmt.Sprintf("bank %d", l.Bank(set[0])+1)
	case len(set) == l.N() && len(set) > 1:
		return "engine"
	}
	return engine.Places(set)
}
