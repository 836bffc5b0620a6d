package belief

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"halforder/engine"
)

// powers weigh repeats, which share their mistakes. Readings of the same check at the
// same place with the same parts count, n of them, as 1 + w·(n−1). Of findings from
// one source the one that says most counts whole and each other w.
func (m *model) powers(evidence []Evidence) []float64 {
	groups := map[string][]int{}
	for i := range evidence {
		if key := m.repeatKey(&evidence[i]); key != "" {
			groups[key] = append(groups[key], i)
		}
	}
	w := m.cat.Setting("repeat-weight")
	out := slices.Repeat([]float64{1}, len(evidence))
	for _, like := range groups {
		loudest := 0
		for k, i := range like {
			if says(&evidence[i]) > says(&evidence[like[loudest]]) {
				loudest = k
			}
		}
		for k, i := range like {
			n := float64(len(like))
			switch {
			case evidence[i].Reading != nil:
				out[i] = (1 + w*(n-1)) / n
			case k != loudest:
				out[i] = w
			}
		}
	}
	return out
}

// says is how far a finding can shift the odds of two patterns, as a logarithm; 0 for
// other evidence.
func says(e *Evidence) float64 {
	if e.Finding == nil {
		return 0
	}
	least, most := e.Finding.Else, e.Finding.Else
	for v := range maps.Values(e.Finding.Log) {
		least, most = math.Min(least, v), math.Max(most, v)
	}
	return most - least
}

// repeatKey is the same for evidence that repeats itself, whatever moved elsewhere
// meanwhile; empty where nothing is repeated.
func (m *model) repeatKey(e *Evidence) string {
	what, cylinders := e.Source, []engine.Cylinder(nil)
	switch {
	case e.Reading != nil:
		what, cylinders = e.Reading.Check, maskOf(e.Reading.Cylinders).cylinders()
	case e.Finding == nil || e.Source == "":
		return ""
	}
	return fmt.Sprint(e.Reading != nil, what, cylinders, e.regime(), e.Miss, e.Mended, m.partsAt(cylinders, m.seatingOf(e)))
}
