package plan

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Next ranks what to do now, best first. The first is the step with the least
// expected cost to a proven repair, but for two cautions: of the checks one that
// is less likely to name a good part, and before a repair that is not sure enough
// a check that confirms it; what shakes without a misfire is looked for before it is
// mended. Where neither a check nor a repair is worth
// its money, the best is a further diagnosis (Suggestion.Repair "further").
func Next(b *belief.Belief, o Options) ([]Suggestion, error) {
	if b == nil {
		return nil, errors.New("plan: no belief to plan from")
	}
	pl, err := newPlanner(b, o)
	if err != nil {
		return nil, err
	}
	start := pl.start()
	moves := pl.lookedFor(pl.confirmed(pl.careful(pl.p.rank(pl.weights, start, pl.o.Depth))))
	plain, _ := pl.p.repairOnly(pl.weights, start)
	var out []Suggestion
	for _, m := range moves {
		if len(out) == pl.o.Limit {
			break
		}
		if s, ok := pl.suggest(m, plain); ok {
			out = append(out, s)
		}
	}
	return out, nil
}

func (pl *planner) suggest(m move, plain float64) (Suggestion, bool) {
	if m.check == noCandidate && m.repair == noCandidate {
		return pl.suggestHandingOver(m, plain)
	}
	if m.repair != noCandidate {
		if pl.forbidden(pl.units[m.repair].repair.Code, pl.units[m.repair].repair.Cautions) {
			return Suggestion{}, false
		}
		return pl.suggestRepair(m, plain), true
	}
	return pl.suggestCheck(m, plain), true
}

// HandOver is the code of the repair that starts a further diagnosis.
const HandOver = "further"

func (pl *planner) suggestHandingOver(m move, plain float64) (Suggestion, bool) {
	r, err := pl.cat.Repair(HandOver)
	if err != nil || pl.forbidden(HandOver) {
		return Suggestion{}, false
	}
	name, p := pl.leader(pl.weights)
	return Suggestion{
		Repair: HandOver, Title: r.Title, Regime: pl.o.Regime, Minutes: r.MinutesEasy, Cash: r.Parts, Cost: pl.p.handOn,
		Expected: m.value, Saves: plain - m.value,
		Why: fmt.Sprintf("No check in the list is likely to spare its own price, and no repair is likely enough to be sold. The best guess is %s with %s.", name, percent(p)),
	}, true
}

func (pl *planner) suggestCheck(m move, plain float64) Suggestion {
	a := &pl.asked[m.check]
	k := a.check
	s := Suggestion{
		Check: k.Code, Title: titleOf(k, &a.q, pl.car.Layout.N()), Asks: k.Asks, Cylinders: a.q.Cylinders, Kind: k.Swaps, Sweep: a.q.Sweep,
		Regime: a.q.Regime, Minutes: a.minutes, Cash: k.Cash, Cost: pl.p.checks[m.check].costIn(pl.start().opened),
		Expected: m.value, Saves: plain - m.value, Needs: pl.needs(k),
		Cautions: pl.words(k.Cautions), Stops: pl.words(k.Stops),
	}
	if pl.p.checks[m.check].cover&^pl.start().opened != 0 {
		s.Minutes += k.MinutesHard - k.MinutesEasy
	}
	s.Outcomes, s.Bits = pl.prospects(a)
	s.Why = pl.why(&s)
	return s
}

func (pl *planner) needs(k *fault.Check) []string {
	var out []string
	for _, n := range k.Needs {
		if !strings.HasPrefix(n, "after ") {
			out = append(out, n)
		}
	}
	return out
}

// words are the cautions that concern this car.
func (pl *planner) words(cautions []fault.Caution) []string {
	return CautionWords(cautions, pl.o.Hybrid, pl.car.Injection)
}

// CautionWords are the cautions, in words, that concern a car with or without a motor
// that may start it and with such an injection.
func CautionWords(cautions []fault.Caution, hybrid bool, inj fault.Injection) []string {
	var out []string
	for _, c := range cautions {
		if c.Code == "hybrid" && !hybrid || c.Code == "di-pressure" && inj == fault.Port {
			continue
		}
		out = append(out, c.Words)
	}
	return out
}

func titleOf(k *fault.Check, q *belief.Question, n int) string {
	switch {
	case k.Swaps != "":
		return fmt.Sprintf("%s: cylinder %d with %d", k.Title, q.Cylinders[0], q.Cylinders[1])
	case q.Sweep && len(q.Cylinders) == n:
		return k.Title + ": all cylinders"
	case len(q.Cylinders) > 0:
		return k.Title + ": " + engine.Places(q.Cylinders)
	}
	return k.Title
}

// leastProspect is the chance below which an outcome is not spelled out.
const leastProspect = 0.005

// prospects says what each answer would do, likeliest first, and the expected
// information in bits.
func (pl *planner) prospects(a *asked) ([]Prospect, float64) {
	var out []Prospect
	before, after := entropy(pl.weights), 0.0
	w := make([]float64, len(pl.weights))
	for _, x := range a.answers {
		p := weigh(w, pl.weights, x.Chances)
		if p <= rounding {
			continue
		}
		for i := range w {
			w[i] /= p
		}
		after += p * entropy(w)
		if p < leastProspect {
			continue
		}
		rest, _ := pl.p.repairOnly(w, pl.start())
		out = append(out, Prospect{Outcome: x.Code, Cylinder: x.Cylinder, Words: pl.answerWords(a, &x), P: p, Then: pl.then(w), Expected: rest, RulesOut: pl.cleared(w), Open: pl.open(w)})
	}
	sortProspects(out)
	return out, before - after
}

func sortProspects(p []Prospect) {
	slices.SortStableFunc(p, func(x, y Prospect) int { return cmp.Compare(y.P, x.P) })
}

func (pl *planner) answerWords(a *asked, x *belief.Answer) string {
	if a.check.Swaps != "" {
		return map[belief.Follow]string{
			belief.Follows:  fmt.Sprintf("the miss goes to cylinder %d", a.q.Cylinders[1]),
			belief.Stays:    "the miss stays where it was",
			belief.Vanishes: "the miss is gone",
			belief.AtBoth:   "both cylinders miss",
		}[belief.Follow(x.Code)]
	}
	if x.Several {
		return "several cylinders differ"
	}
	o, err := a.check.Outcome(x.Code)
	if err != nil {
		return x.Code
	}
	words := a.check.Outcomes[o].Words
	switch {
	case x.Cylinder != 0:
		return cylinderName(x.Cylinder) + " " + words
	case a.q.Sweep:
		return "all alike, " + words
	}
	return words
}

// A leader with sureShare is named as the cause, one with less than faintShare is
// not named at all.
const (
	sureShare  = 0.9
	faintShare = 0.15
)

// then says what would be believed with weights w.
func (pl *planner) then(w []float64) string {
	name, p := pl.leader(w)
	switch {
	case p >= sureShare:
		return fmt.Sprintf("it is %s, %s sure", name, percent(p))
	case p < faintShare:
		return "nothing stands out yet"
	}
	return fmt.Sprintf("%s leads with %.0f %%", name, 100*p)
}

// shares is the mass that needs each repair unit, and that which no repair ends.
func (pl *planner) shares(w []float64) (by []float64, lost float64) {
	by = make([]float64, len(pl.units))
	for i, faults := range pl.p.worlds {
		if len(faults) == 0 {
			lost += w[i]
		}
		for _, f := range faults {
			for _, r := range pl.p.fixers[f] {
				by[r] += w[i]
			}
		}
	}
	return by, lost
}

// leader is the repair unit that most of the mass needs.
func (pl *planner) leader(w []float64) (string, float64) {
	by, lost := pl.shares(w)
	best := 0
	for r := range by {
		if by[r] > by[best] {
			best = r
		}
	}
	if len(by) == 0 || lost > by[best] {
		return "something not in the list", lost
	}
	return pl.unitName(best), min(by[best], 1)
}

// A suspect worth naming has at least namedShare; it counts as cleared when an
// outcome leaves it less than clearedShare of what it had.
const (
	namedShare   = 0.04
	clearedShare = 0.2
	openNamed    = 3
)

// cleared names the suspects that weights w as good as rule out.
func (pl *planner) cleared(w []float64) []string {
	before, _ := pl.shares(pl.weights)
	after, _ := pl.shares(w)
	var out []string
	for _, r := range byShare(before) {
		if before[r] >= namedShare && after[r] < clearedShare*before[r] {
			out = append(out, pl.unitName(r))
		}
	}
	return out
}

// open names the likeliest suspects left under weights w, none where one is as
// good as proven.
func (pl *planner) open(w []float64) []string {
	after, _ := pl.shares(w)
	var out []string
	for _, r := range byShare(after) {
		if after[r] >= sureShare {
			return nil
		}
		if after[r] >= namedShare && len(out) < openNamed {
			out = append(out, fmt.Sprintf("%s %.0f %%", pl.unitName(r), 100*after[r]))
		}
	}
	return out
}

// byShare lists indices, greatest share first.
func byShare(shares []float64) []int {
	out := make([]int, len(shares))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(shares[b], shares[a]) })
	return out
}

func (pl *planner) unitName(r int) string {
	u := &pl.units[r]
	switch {
	case u.site.Part != "" && len(u.cylinders) > 0:
		return fmt.Sprintf("%s at %s", u.site.Part, engine.Places(u.cylinders))
	case u.site.Lives == fault.Nowhere:
		return "no misfire at all"
	}
	return fmt.Sprintf("%s (%s)", strings.ToLower(u.repair.Title[:1])+u.repair.Title[1:], u.site.Name)
}

func entropy(w []float64) float64 {
	h := 0.0
	for _, p := range w {
		if p > 0 {
			h -= p * math.Log2(p)
		}
	}
	return h
}

func (pl *planner) suggestRepair(m move, plain float64) Suggestion {
	u := &pl.units[m.repair]
	r := &pl.p.repairs[m.repair]
	s := Suggestion{
		Repair: u.repair.Code, Title: u.repair.Title + ": " + u.site.Name, Cylinders: u.cylinders, Part: u.site.Part, Kind: u.site.Kind,
		Regime: pl.o.Regime, Minutes: u.repair.MinutesEasy, Cash: u.repair.Parts, Cost: pl.p.costOf(r, pl.start().opened),
		Expected: m.value, Saves: plain - m.value, Cautions: pl.words(u.repair.Cautions),
	}
	if r.cover&^pl.start().opened != 0 {
		s.Minutes += u.repair.MinutesHard - u.repair.MinutesEasy
	}
	s.Outcomes = pl.repairProspects(m.repair)
	s.Why = pl.why(&s)
	return s
}

func (pl *planner) repairProspects(r int) []Prospect {
	done := set(nil, len(pl.units), r)
	gone := 0.0
	rest := make([]float64, len(pl.weights))
	effects := pl.p.effectsOf(nil, done)
	for i, k := range pl.p.kind {
		if effects[k] == endsAll {
			gone += pl.weights[i]
		} else {
			rest[i] = pl.weights[i]
		}
	}
	out := []Prospect{{Outcome: "gone", Words: "the miss is gone", P: gone, Then: "prove it and close the job"}}
	if stays := 1 - gone; stays > rounding {
		s := pl.start()
		s.done = done
		cost, _ := pl.p.repairOnly(rest, s)
		for i := range rest {
			rest[i] /= stays
		}
		out = append(out, Prospect{Outcome: "stays", Words: "the miss stays", P: stays, Then: pl.then(pl.without(rest, r)), Expected: cost / stays})
	}
	return out
}

// without leaves out worlds whose only fault repair r would have ended.
func (pl *planner) without(w []float64, r int) []float64 {
	out := slices.Clone(w)
	for i, faults := range pl.p.worlds {
		if len(faults) == 1 && slices.Contains(pl.p.fixers[faults[0]], r) {
			out[i] = 0
		}
	}
	return out
}
