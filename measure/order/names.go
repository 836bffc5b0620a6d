package order

import (
	"fmt"
	"math"
	"strings"

	"halforder/engine"
	"halforder/finding"
)

// suspicion is the chance of a cylinder to be dead or weak.
type suspicion struct {
	cylinder   engine.Cylinder
	dead, weak float64
}

const (
	nameChance    = 0.90 // from which a cylinder is named
	suspectChance = 0.10 // from which it is mentioned
	bothChance    = 1.5  // summed, from which two that are mentioned are rather both than one of them
)

// suspicions gives the chances by cylinder in firing order, the pattern priors
// counted and all working not excluded.
func suspicions(l *finding.Likelihood, layout engine.Layout) []suspicion {
	out := make([]suspicion, layout.N())
	for k := range out {
		out[k].cylinder = layout.At(k)
	}
	top := math.Inf(-1)
	weights := map[finding.Pattern]float64{}
	for p, v := range l.Log {
		v += namedPrior(p)
		weights[p] = v
		top = max(top, v)
	}
	var total float64
	for p, v := range weights {
		w := math.Exp(v - top)
		total += w
		for k := range out {
			switch finding.State(p[k]) {
			case finding.Dead:
				out[k].dead += w
			case finding.Weak:
				out[k].weak += w
			}
		}
	}
	for k := range out {
		out[k].dead /= total
		out[k].weak /= total
	}
	return out
}

// isDead reports whether it is called dead, isNamed whether it is called dead or
// weak.
func (s suspicion) isDead() bool  { return s.dead >= nameChance }
func (s suspicion) isNamed() bool { return s.dead+s.weak >= nameChance }

// namedPrior is the logarithm of how likely a pattern by cylinder is, against
// all cylinders working.
func namedPrior(p finding.Pattern) float64 {
	if count(p) == 0 {
		return 0
	}
	ways := 1.0
	switch {
	case count(p) == 2:
		ways = 2 // patternPrior counts a distance and its rest to the whole turn as two
		if p.Count(finding.Weak) > 0 {
			ways *= weakBeside
		}
	case p.Count(finding.Weak) == 1:
		ways = weakSought
	}
	return math.Log(ways * patternPrior(p) / float64(len(rotations(p))))
}

// weakSought is how much likelier one weak cylinder is where somebody cuts or
// marks cylinders to find it: about as likely as a dead one. Judgement (prior).
const weakSought = 2.5

// weakBeside is how much less likely a weak one is beside another bad one, where
// it gets a name: a quiet way to the microphone is likelier. Judgement (prior).
const weakBeside = 0.15

const nobody = "No cylinder stands out."

// nameSentence says which cylinders it is, or between which it cannot tell and
// what to do about it.
func nameSentence(all []suspicion) string {
	var dead, weak, maybe []string
	next, chance := suspicion{}, 0.0 // of those that may be, summed
	for _, s := range all {
		name := fmt.Sprint(s.cylinder)
		switch {
		case s.isDead():
			dead = append(dead, name)
		case s.isNamed():
			weak = append(weak, name)
		case s.dead+s.weak >= suspectChance:
			maybe = append(maybe, name)
			chance += s.dead + s.weak
			if s.dead+s.weak > next.dead+next.weak {
				next = s
			}
		}
	}
	var out []string
	if len(dead) > 0 {
		out = append(out, about(dead, "does nothing", "do nothing"))
	}
	if len(weak) > 0 {
		out = append(out, about(weak, "gives too little", "give too little"))
	}
	switch {
	case len(maybe) > 0 && len(out) > 0:
		out = append(out, fmt.Sprintf("Perhaps cylinder %s too: cut %d next; if little or nothing changes, that is another one.", strings.Join(maybe, " or "), next.cylinder))
	case len(maybe) == 2 && chance >= bothChance:
		out = append(out, fmt.Sprintf("It is probably both cylinders %s: cut %d next; if little or nothing changes, it is these two.", strings.Join(maybe, " and "), next.cylinder))
	case len(maybe) > 0:
		out = append(out, fmt.Sprintf("It may be cylinder %s: cut %d next; if little or nothing changes, that is the one.", strings.Join(maybe, " or "), next.cylinder))
	case len(out) == 0:
		return nobody
	}
	return strings.Join(out, " ")
}

// about says one thing of one cylinder or of several.
func about(cylinders []string, one, several string) string {
	if len(cylinders) == 1 {
		return fmt.Sprintf("Cylinder %s %s.", cylinders[0], one)
	}
	return fmt.Sprintf("Cylinders %s %s.", listed(cylinders), several)
}

// addNames turns the anonymous likelihood into one by cylinder.
func (h *heard) addNames(f *finding.Finding, j judgement) {
	named, notes := h.names()
	if h.marked != 0 {
		byMark, why := h.namesByMark()
		if why != "" {
			notes = append(notes, why)
		}
		if byMark != nil && named == nil {
			notes = append(notes, "named by the mark, for a microphone over the engine: at the tailpipe the sound comes later and the name may be of another")
		}
		named = joined(named, byMark)
	}
	f.Notes = append(f.Notes, notes...)
	if named == nil {
		return
	}
	if f.Verdict == finding.Misfire {
		doubtAllWork(named)
	}
	h.cutSays(f, named, j)
	f.Likelihood = named
	all := suspicions(named, h.layout)
	for _, s := range all {
		chance := s.dead + s.weak
		f.Quantities = append(f.Quantities, finding.Quantity{Name: fmt.Sprintf("chance that cylinder %d is dead or weak", s.cylinder),
			Value: chance, Low: chance, High: chance, Confidence: confidence})
	}
	switch who := nameSentence(all); {
	case f.Verdict == finding.Misfire:
		f.Sentence += " " + who
		h.addWork(f, all)
	case f.Verdict == finding.CannotTell && who != nobody:
		f.Notes = append(f.Notes, "if one misses: "+who)
	}
}

// doubtAllWork takes into account that the recording as a whole is judged to
// misfire, which the weights by name leave out in part: they hear what changed
// with the cut, not how unlike the firings are.
func doubtAllWork(l *finding.Likelihood) {
	for p, v := range l.Log {
		if count(p) == 0 {
			l.Log[p] = max(v-misfireOdds, leastLog)
		}
	}
}

// joined adds two likelihoods over the same patterns; either may be nil.
func joined(a, b *finding.Likelihood) *finding.Likelihood {
	if a == nil || b == nil {
		if a == nil {
			return b
		}
		return a
	}
	log := map[finding.Pattern]float64{}
	for p, v := range a.Log {
		log[p] = v + b.Log[p]
	}
	return shifted(log)
}

// Named lists the cylinders a finding of this package names as dead or weak:
// those whose chance is at least 90 %. An anonymous finding names nobody.
func Named(f finding.Finding, layout engine.Layout) []engine.Cylinder {
	if f.Likelihood == nil || f.Likelihood.Anonymous {
		return nil
	}
	var out []engine.Cylinder
	for _, s := range suspicions(f.Likelihood, layout) {
		if s.isNamed() {
			out = append(out, s.cylinder)
		}
	}
	return out
}
