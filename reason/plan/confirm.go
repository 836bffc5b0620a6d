package plan

import "math"

// A part that is as good as named, from sureShare on, is sold only from
// soldShare on, as long as a check at no more than confirmMinutes of labour above
// the cheapest plan at least halves the chance to sell a good one. Judgement: the
// costs alone would accept one good part sold in fifteen.
const (
	soldShare      = 0.98
	confirmMinutes = 20
	halvesDoubt    = 0.5
)

// confirmed puts a check that confirms before the repair of a part that is not
// sure enough to be sold. The moves are sorted, and may lack checks that do not
// pay for themselves.
func (pl *planner) confirmed(moves []move) []move {
	if len(moves) == 0 || moves[0].repair == noCandidate || pl.units[moves[0].repair].site.Part == "" {
		return moves
	}
	unit := moves[0].repair
	by, _ := pl.shares(pl.weights)
	if by[unit] < sureShare || by[unit] >= soldShare {
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

// doubtAfter is the chance to sell the unit's part needlessly when check i is
// done first and the part is sold where it stays as good as named.
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
