package cutout

import (
	"math"
	"slices"
)

// strengthStep is how finely the strength that a cut takes away is looked at.
const strengthStep = 0.01

func strengthCell(w float64) int { return int(math.Round(w / strengthStep)) }

// effects are how likely the effects of one cut are, all channels together, at one
// scaling, by the cell of the strength that was taken away; only cells that occur.
type effects []float64

func (e effects) of(strength float64) float64 { return e[strengthCell(strength)] }

// expected is the mean over a cylinder of which only the usual mix of states is
// known.
func (e effects) expected(mix [3]float64) (sum float64) {
	for j, state := range states {
		s := stateStrengths[state]
		for n, p := range s.p {
			sum += mix[j] * p * e.of(s.w[n])
		}
	}
	return sum
}

// effectTable is how likely the effects of one cut are, by channel, place of the
// scale and cell of strength: as usual, and when something else came in between.
type effectTable struct {
	cells            []int
	size             int
	usual, disturbed [][][]float64
}

func (w *weigher) table(i int) effectTable {
	t := effectTable{cells: cellsOf(max(len(w.cuts[i].Cylinders), 1))}
	t.size = t.cells[len(t.cells)-1] + 1
	for _, ch := range w.channels {
		usual, disturbed := make([][]float64, len(ch.scales)), make([][]float64, len(ch.scales))
		for k, scale := range ch.scales {
			usual[k], disturbed[k] = make([]float64, t.size), make([]float64, t.size)
			for _, cell := range t.cells {
				usual[k][cell], disturbed[k][cell] = ch.density(i, float64(cell)*strengthStep, scale)
			}
		}
		t.usual, t.disturbed = append(t.usual, usual), append(t.disturbed, disturbed)
	}
	return t
}

// cellsOf are the cells of nothing, of what one cylinder does, and of what so many
// can do together, ascending.
func cellsOf(cylinders int) (out []int) {
	if cylinders > 1 {
		for c := range cylinders*strengthCell(mostStrength) + 1 {
			out = append(out, c)
		}
		return out
	}
	for _, state := range states {
		for _, w := range stateStrengths[state].w {
			out = append(out, strengthCell(w))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// at is the table at one scaling.
func (t effectTable) at(s scaling) effects {
	out := make(effects, t.size)
	for _, cell := range t.cells {
		usual, disturbed := 1.0, 1.0
		for c, k := range s.at {
			usual *= t.usual[c][k][cell]
			disturbed *= t.disturbed[c][k][cell]
		}
		out[cell] = (1-sharedP)*usual + sharedP*disturbed
	}
	return out
}
