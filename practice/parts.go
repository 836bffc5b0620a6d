package practice

import (
	"fmt"
	"slices"

	"halforder/engine"
)

// Part is a thing that can be moved: its faults travel with it.
type Part struct {
	Site  Site   // AtCoil, AtPlug, AtBoot or AtInjector
	Label string // "coil A": what a technician would write on it

	flow   float64 // healthy deviation: injector flow
	energy float64 // healthy deviation: coil energy
	gapMM  float64
}

var partSites = []Site{AtCoil, AtPlug, AtBoot, AtInjector}

// shelf holds which part sits where.
type shelf struct {
	slots map[Site][]*Part
	slot  map[Site][]int // by cylinder − 1
	made  map[Site]int
	rolls dice
	fuel  float64
}

func newShelf(c Config) *shelf {
	s := &shelf{map[Site][]*Part{}, map[Site][]int{}, map[Site]int{}, newDice(c.Seed, "parts"), c.Spread.CylinderFuel}
	for _, site := range partSites {
		s.slot[site] = slotsOf(c, site)
		for range slices.Max(s.slot[site]) + 1 {
			s.slots[site] = append(s.slots[site], s.newPart(site))
		}
	}
	return s
}

// slotsOf maps cylinders to slots: one each, but one coil for each companion
// pair on wasted spark.
func slotsOf(c Config, site Site) []int {
	out := make([]int, c.Layout.N())
	for i := range out {
		out[i] = i
	}
	if site == AtCoil && c.Ignition == WastedSpark {
		for k, pair := range c.Layout.CompanionPairs() {
			out[pair[0]-1], out[pair[1]-1] = k, k
		}
	}
	return out
}

func (s *shelf) newPart(site Site) *Part {
	n := s.made[site]
	s.made[site]++
	return &Part{
		Site: site, Label: string(site) + " " + letters(n),
		flow:   1 + s.fuel*s.rolls.normal(),
		energy: 1 + 0.04*s.rolls.normal(), // judgement: coils of one make differ by a few per cent
		gapMM:  0.9 + 0.04*s.rolls.normal(),
	}
}

func letters(n int) string {
	if n < 26 {
		return string(rune('A' + n))
	}
	return letters(n/26-1) + string(rune('A'+n%26))
}

func (s *shelf) at(site Site, c engine.Cylinder) *Part { return s.slots[site][s.slot[site][c-1]] }

func (s *shelf) swap(site Site, a, b engine.Cylinder) error {
	i, j := s.slot[site][a-1], s.slot[site][b-1]
	if i == j {
		return fmt.Errorf("cylinders %d and %d share one %s, there is nothing to swap", a, b, site)
	}
	s.slots[site][i], s.slots[site][j] = s.slots[site][j], s.slots[site][i]
	return nil
}

func (s *shelf) renew(site Site, c engine.Cylinder) *Part {
	fresh := s.newPart(site)
	s.slots[site][s.slot[site][c-1]] = fresh
	return fresh
}
