package belief

import (
	"math"
	"slices"
)

// World is one hypothesis as planning needs it: which faults are there, as
// indices for FaultAt. No faults means "not a misfire".
type World struct {
	Faults []int
	P      float64
}

// Worlds lists the most likely hypotheses, at most limit, with probabilities
// scaled to sum to 1. The second value is the mass they had.
func (b *Belief) Worlds(limit int) ([]World, float64) {
	return b.above(b.floor(limit), limit)
}

func (b *Belief) above(floor float64, limit int) ([]World, float64) {
	var out []World
	kept := 0.0
	b.each(func(faults []int, p float64) {
		if p > 0 && p >= floor && len(out) < limit {
			out = append(out, World{slices.Clone(faults), p})
			kept += p
		}
	})
	for i := range out {
		out[i].P /= kept
	}
	return out, kept
}

// Likeliest is Worlds with no more of them than hold a mass, to within the width
// of the bins of floor.
func (b *Belief) Likeliest(limit int, mass float64) ([]World, float64) {
	return b.above(max(b.floor(limit), b.massFloor(mass)), limit)
}

// floor is a probability that about limit hypotheses exceed, to within a
// sixteenth of an octave: the upper bits of a positive float sort like it.
func (b *Belief) floor(limit int) float64 {
	if len(b.post) <= limit {
		return 0
	}
	count := make([]int32, bins)
	for _, p := range b.post {
		count[binOf(p)]++
	}
	n := 0
	for k := len(count) - 1; k > 0; k-- {
		above := n
		if n += int(count[k]); n > limit {
			if above < limit/2 { // better some of this bin than too few at all
				k--
			}
			return binStart(k + 1)
		}
	}
	return 0
}

// bins sort probabilities by the upper bits of the float.
const (
	binShift = 48
	bins     = 1 << 14
)

func binOf(p float64) int { return int(math.Float64bits(p) >> binShift) }

func binStart(k int) float64 { return math.Float64frombits(uint64(k) << binShift) }

// massFloor is a probability such that the hypotheses above it hold at least a
// mass.
func (b *Belief) massFloor(mass float64) float64 {
	held := make([]float64, bins)
	for _, p := range b.post {
		held[binOf(p)] += p
	}
	sum := 0.0
	for k := len(held) - 1; k > 0; k-- {
		if sum += held[k]; sum >= mass {
			return binStart(k)
		}
	}
	return 0
}

// FaultAt describes a fault by the index a World uses.
func (b *Belief) FaultAt(i int) Fault { return b.faultAt(i) }

// Find is the index of a fault, as FaultAt describes it. An empty severity finds
// the first one of that cause and site.
func (b *Belief) Find(f Fault) (int, bool) {
	for i := range b.m.faults {
		x := b.faultAt(i)
		if x.Cause == f.Cause && x.Site.Name == f.Site.Name && x.Site.Kind == f.Site.Kind && (f.Severity == "" || f.Severity == x.Severity) {
			return i, true
		}
	}
	return 0, false
}
