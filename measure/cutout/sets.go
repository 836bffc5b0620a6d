package cutout

import (
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// Set is a set of cylinders of which at least one is weak or dead, and the test
// cannot say which.
type Set struct {
	Cylinders []engine.Cylinder `json:"cylinders"`
	P         float64           `json:"p"`      // that at least one is troubled
	Repeat    []engine.Cylinder `json:"repeat"` // which to cut again, in this order
}

// setsOf names the cylinders that remain when something is surely wrong among
// those the test cannot judge.
func setsOf(cylinders []Cylinder, l engine.Layout, patterns []finding.Pattern, post []float64) []Set {
	var open []Cylinder
	for _, c := range cylinders {
		if c.Verdict == CannotTell && c.Cuts > 0 && 1-c.PWorks > 0.02 {
			open = append(open, c)
		}
	}
	slices.SortStableFunc(open, func(a, b Cylinder) int {
		switch {
		case a.PWorks < b.PWorks:
			return -1
		case a.PWorks > b.PWorks:
			return 1
		}
		return 0
	})
	var set []engine.Cylinder
	for _, c := range open {
		set = append(set, c.Number)
		if p := anyTroubled(set, l, patterns, post); p >= sureGood {
			return []Set{{Cylinders: sorted(set), P: p, Repeat: slices.Clone(set)}}
		}
	}
	return nil
}

func sorted(set []engine.Cylinder) []engine.Cylinder {
	out := slices.Clone(set)
	slices.Sort(out)
	return out
}

// anyTroubled is the chance that at least one of the set does not work.
func anyTroubled(set []engine.Cylinder, l engine.Layout, patterns []finding.Pattern, post []float64) (p float64) {
	for i, pattern := range patterns {
		if slices.ContainsFunc(set, func(c engine.Cylinder) bool {
			return finding.State(pattern[l.Position(c)]) != finding.Works
		}) {
			p += post[i]
		}
	}
	return p
}
