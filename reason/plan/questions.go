package plan

import (
	"cmp"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// questions lists the ways to do a check now.
func (pl *planner) questions(k *fault.Check) []belief.Question {
	base := belief.Question{Check: k.Code, Regime: pl.o.Regime}
	if !slices.Contains(k.Regimes, pl.o.Regime) && len(k.Regimes) > 0 && k.Regimes[0] != fault.Any {
		base.Regime = k.Regimes[0]
	}
	switch {
	case k.Swaps != "":
		return pl.swaps(k, base)
	case k.Scope == fault.WholeEngine:
		return []belief.Question{base}
	case k.Scope == fault.PerBank:
		return pl.perBank(base)
	case k.Scope == fault.EachCylinder:
		base.Sweep, base.Cylinders = true, pl.car.Layout.Cylinders()
		return []belief.Question{base}
	}
	return pl.perCylinder(k, base)
}

func (pl *planner) perBank(base belief.Question) []belief.Question {
	var out []belief.Question
	for _, bank := range pl.car.Layout.Banks() {
		q := base
		q.Cylinders = bank
		out = append(out, q)
	}
	return out
}

// suspectsLimit is how many cylinders a check is tried at, suspectFloor the
// least chance of a fault that makes a cylinder worth it.
const (
	suspectsLimit = 4
	suspectFloor  = 0.04
)

func (pl *planner) perCylinder(k *fault.Check, base belief.Question) []belief.Question {
	var out []belief.Question
	for _, c := range pl.suspects() {
		q := base
		q.Cylinders = []engine.Cylinder{c}
		out = append(out, q)
	}
	if k.Reach {
		return out
	}
	sweep := base
	sweep.Sweep = true
	for _, c := range pl.car.Layout.Cylinders() {
		one := base
		one.Cylinders = []engine.Cylinder{c}
		if !pl.outlook.Repeats(one) {
			sweep.Cylinders = append(sweep.Cylinders, c)
		}
	}
	if len(sweep.Cylinders) > 1 {
		out = append(out, sweep)
	}
	return out
}

// suspects lists the cylinders a fault may touch, likeliest first.
func (pl *planner) suspects() []engine.Cylinder {
	all := pl.car.Layout.Cylinders()
	slices.SortStableFunc(all, func(a, b engine.Cylinder) int { return cmp.Compare(pl.mass[b-1], pl.mass[a-1]) })
	n := 1
	for n < min(suspectsLimit, len(all)) && pl.mass[all[n]-1] > suspectFloor {
		n++
	}
	return all[:n]
}

// swaps proposes to move the part of the likeliest cylinders to a partner. It
// takes a miss to follow, so none is proposed while it is absent.
func (pl *planner) swaps(k *fault.Check, base belief.Question) []belief.Question {
	if pl.o.Miss == belief.Absent {
		return nil
	}
	var out []belief.Question
	for _, a := range pl.suspects()[:min(2, len(pl.suspects()))] {
		b, ok := pl.partner(k, a)
		if !ok {
			continue
		}
		q := base
		q.Cylinders, q.Seconds = []engine.Cylinder{a, b}, watchSeconds
		if k.Swaps == fault.Coil {
			q.Along = pl.o.Along
		}
		out = append(out, q)
	}
	return out
}

// watchSeconds is how long a miss is watched before and after a swap unless the
// job says otherwise: common practice.
const watchSeconds = 60

// partner is the cylinder to swap with: strong, easy to reach, neither
// companion nor neighbour in the block or the firing order.
func (pl *planner) partner(k *fault.Check, a engine.Cylinder) (engine.Cylinder, bool) {
	best, bestScore := engine.Cylinder(0), 0.0
	for _, c := range pl.car.Layout.Cylinders() {
		if _, err := pl.o.Seating.Swapped(k.Swaps, a, c); err != nil {
			continue
		}
		if score := pl.partnerScore(a, c); best == 0 || score < bestScore {
			best, bestScore = c, score
		}
	}
	return best, best != 0
}

func (pl *planner) partnerScore(a, c engine.Cylinder) float64 {
	l := pl.car.Layout
	score := 10 * pl.mass[c-1]
	if pl.car.HardAt(c) && !slices.Contains(pl.o.Opened, c) && !(pl.car.HardAt(a) && l.Bank(a) == l.Bank(c)) {
		score += 4
	}
	if mate, ok := l.Companion(a); ok && mate == c {
		score++
	}
	before, after := l.FiringNeighbours(a)
	if c == before || c == after {
		score++
	}
	if slices.Contains(l.BlockNeighbours(a), c) {
		score++
	}
	return score
}

// covers reports whether have holds every wanted cylinder.
func covers(have, want []engine.Cylinder) bool {
	for _, c := range want {
		if !slices.Contains(have, c) {
			return false
		}
	}
	return true
}

// precededBy reports whether a check that makes sense only after another
// reading ("after compression low") has it.
func (pl *planner) precededBy(k *fault.Check, cylinders []engine.Cylinder) bool {
	for _, need := range k.Needs {
		words := strings.Fields(need)
		if len(words) == 3 && words[0] == "after" && !pl.hasReading(words[1], words[2], cylinders) {
			return false
		}
	}
	return true
}

func (pl *planner) hasReading(check, outcome string, cylinders []engine.Cylinder) bool {
	for _, e := range pl.b.Evidence() {
		if r := e.Reading; r != nil && r.Check == check && r.Outcome == outcome && covers(r.Cylinders, cylinders) {
			return true
		}
	}
	return false
}
