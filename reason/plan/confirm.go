package plan

import "math"

// A repair that leads, from ledShare on, is sold only from soldShare on, as long
// as a check at no more than confirmMinutes of labour above the cheapest plan at
// least halves the chance to sell it needlessly. Judgement: the costs alone would
// accept one needless repair in fifteen.
const (
	ledShare       = 0.8
	soldShare      = 0.985
	confirmMinutes = 15
	halvesDoubt    = 0.5
)

// confirmed puts a check that confirms before a repair that is not sure enough
// to be sold. The moves are sorted, and may lack checks that do not pay for
// themselves.
func (pl *planner) confirmed(moves []move) []move {
	if len(moves) == 0 || moves[0].repair == noCandidate {
		return moves
	}
	unit := moves[0].repair
	by, _ := pl.shares(pl.weights)
	if by[unit] < ledShare || by[unit] >= soldShare {
		return moves
	}
	best := move{noCandidate, noCandidate, moves[0].value + pl.money(confirmMinutes)}
	for i := range pl.p.checks {
		if pl.doubtAfter(i, unit) > halvesDoubt*(1-by[unit]) {
			continue
		}
		if v := pl.p.checkValue(pl.weights, pl.start(), i, 0, nil); v < best.value {
			best = move{i, noCandidate, v}
		}
	}
	if best.check == noCandidate {
		return moves
	}
	out := []move{best}
	for _, m := range moves {
		if m.check != best.check || m.check == noCandidate {
			out = append(out, m)
		}
	}
	return out
}

// doubtAfter is the chance to sell a unit needlessly when check i is done first
// and it is sold where it is then as good as named.
func (pl *planner) doubtAfter(i, unit int) float64 {
	total := 0.0
	w := make([]float64, len(pl.weights))
	for _, answer := range pl.p.checks[i].answers {
		mass := weigh(w, pl.weights, answer)
		by, _ := pl.shares(w)
		if good := math.Max(mass-by[unit], 0); by[unit] >= sureShare*mass {
			total += good
		}
	}
	return total
}
