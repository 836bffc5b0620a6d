package plan

import (
	"math"
)

// A repair that leads, from ledShare on, is sold only from soldShare on, as long
// as a check at no more than confirmMinutes of labour above the cheapest plan
// takes at least a share of eased off the chance to sell it needlessly.
// Judgement: the costs alone would accept one needless repair in fifteen.
const (
	ledShare       = 0.6
	soldShare      = 0.985
	confirmMinutes = 30
	eased          = 0.3
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
	first := move{noCandidate, noCandidate, 0}
	least := moves[0].value + pl.money(confirmMinutes)
	for i := range pl.p.checks {
		if pl.doubtAfter(i, unit) > (1-eased)*(1-by[unit]) {
			continue
		}
		value := pl.p.checkValue(pl.weights, pl.start(), i, 0, nil)
		if careful := value + pl.misnamed(i, by); careful < least {
			first, least = move{i, noCandidate, value}, careful
		}
	}
	if first.check == noCandidate {
		return moves
	}
	return putFirst(first, moves)
}

// doubtAfter is the chance to sell a unit needlessly when check i is done first
// and it is sold where it then leads still.
func (pl *planner) doubtAfter(i, unit int) float64 {
	total := 0.0
	pl.afterEach(i, func(mass float64, by []float64) {
		if by[unit] >= ledShare*mass {
			total += max(mass-by[unit], 0)
		}
	})
	return total
}

// careful puts first, where the best move is a check, the check that is best when
// what it loses by naming a good part counts too: whoever reads that it is that
// part, nine in ten sure, may sell it there and then.
func (pl *planner) careful(moves []move) []move {
	if len(moves) == 0 || moves[0].check == noCandidate {
		return moves
	}
	before, _ := pl.shares(pl.weights)
	first, least := moves[0], math.Inf(1)
	for _, m := range moves {
		if m.check == noCandidate || m.value >= least {
			break
		}
		if v := m.value + pl.misnamed(m.check, before); v < least {
			first, least = m, v
		}
	}
	return putFirst(first, moves)
}

// misnamed is the expected loss from good parts that check i would name and that
// were not named before.
func (pl *planner) misnamed(i int, before []float64) float64 {
	total := 0.0
	pl.afterEach(i, func(mass float64, by []float64) {
		for u, share := range by {
			if pl.units[u].site.Part != "" && share >= sureShare*mass && before[u] < sureShare {
				total += max(mass-share, 0) * pl.p.repairs[u].needless
			}
		}
	})
	return total
}

// afterEach calls f for each answer of check i with the mass that gives it and
// the part of it that needs each unit.
func (pl *planner) afterEach(i int, f func(mass float64, by []float64)) {
	w := make([]float64, len(pl.weights))
	for _, answer := range pl.p.checks[i].answers {
		if mass := weigh(w, pl.weights, answer); mass > 0 {
			by, _ := pl.shares(w)
			f(mass, by)
		}
	}
}

// putFirst moves a check to the front, or puts it there.
func putFirst(first move, moves []move) []move {
	out := []move{first}
	for _, m := range moves {
		if m.check != first.check || m.check == noCandidate {
			out = append(out, m)
		}
	}
	return out
}
