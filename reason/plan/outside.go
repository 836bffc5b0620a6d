package plan

import (
	"math"

	"halforder/reason/fault"
)

// What shakes without a misfire, a mount, a belt, the converter, is mended only where
// a check found it: that every cylinder works says that it is something else, not what.

// pointing is how much likelier an outcome must be without a misfire than in a sound
// car to find what else it is. Judgement.
const pointing = 5

// findsOutside reports whether an outcome says what shakes: of a check that does not
// look at how cylinders work, which finds at most that they all do.
func (pl *planner) findsOutside(check string, outcome int) bool {
	cause, err := pl.cat.Cause(fault.NotMisfire)
	if err != nil || pl.cat.OfState(check, fault.Dead) != nil {
		return false
	}
	p, sound := pl.cat.OfCause(check, cause, fault.SevQuiet, fault.Resting, false), pl.cat.Sound(check)
	return p != nil && len(sound) > 0 && (*p)[outcome] >= pointing*sound[outcome]
}

// foundOutside reports whether a reading found what shakes.
func (pl *planner) foundOutside() bool {
	for _, e := range pl.b.Evidence() {
		if e.Reading == nil {
			continue
		}
		k, err := pl.cat.Check(e.Reading.Check)
		if err != nil {
			continue
		}
		if i, err := k.Outcome(e.Reading.Outcome); err == nil && pl.findsOutside(k.Code, i) {
			return true
		}
	}
	return false
}

// looksOutside reports whether check i can find what shakes.
func (pl *planner) looksOutside(i int) bool {
	k := pl.asked[i].check
	for outcome := range k.Outcomes {
		if pl.findsOutside(k.Code, outcome) {
			return true
		}
	}
	return false
}

// outside is the repair of what shakes without a misfire.
func (pl *planner) outside(u int) bool {
	return u != noCandidate && pl.units[u].site.Lives == fault.Nowhere
}

// withholdUnfound keeps from being sold what was not found and cannot be looked for
// any more.
func (pl *planner) withholdUnfound() {
	if pl.foundOutside() {
		return
	}
	for i := range pl.asked {
		if pl.looksOutside(i) {
			return
		}
	}
	for u := range pl.units {
		if pl.outside(u) {
			pl.p.repairs[u].withheld = true
		}
	}
}

// lookedFor puts the check that may find what shakes before its repair. The moves are
// sorted, and may lack checks that do not pay for themselves.
func (pl *planner) lookedFor(moves []move) []move {
	if len(moves) == 0 || !pl.outside(moves[0].repair) || pl.foundOutside() {
		return moves
	}
	first := move{noCandidate, noCandidate, math.Inf(1)}
	for i := range pl.asked {
		if !pl.looksOutside(i) {
			continue
		}
		if value := pl.p.checkValue(pl.weights, pl.start(), i, 0, nil); value < first.value {
			first = move{i, noCandidate, value}
		}
	}
	if first.check == noCandidate {
		return moves
	}
	return putFirst(first, moves)
}
