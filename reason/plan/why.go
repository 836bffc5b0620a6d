package plan

import (
	"fmt"
	"strings"

	"halforder/engine"
)

// told is how many outcomes are spelled out in a reason.
const told = 3

// why puts the step in plain sentences: what it takes, what the likeliest
// outcomes would do, what it saves.
func (pl *planner) why(s *Suggestion) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Takes %.0f min", s.Minutes)
	if s.Cash > 0 {
		fmt.Fprintf(&b, " and %.0f in parts", s.Cash)
	}
	b.WriteString(".")
	outcomes := s.Outcomes
	if s.Sweep {
		outcomes = together(outcomes)
	}
	for _, o := range outcomes[:min(told, len(outcomes))] {
		fmt.Fprintf(&b, " %s (%s): %s.", capital(o.Words), percent(o.P), o.Then)
	}
	if s.Saves >= 1 {
		fmt.Fprintf(&b, " Saves about %.0f in money against renewing parts by guess.", s.Saves)
	}
	return b.String()
}

// lone is the share from which one cylinder of a sweep is told by itself.
const lone = 0.75

// together tells the outcomes of a sweep that differ only in the cylinder as
// one, unless one cylinder has nearly all of their chance. Order is kept.
func together(outcomes []Prospect) []Prospect {
	sums, most := map[string]float64{}, map[string]float64{}
	for _, o := range outcomes {
		if o.Cylinder != 0 {
			sums[o.Outcome] += o.P
			most[o.Outcome] = max(most[o.Outcome], o.P)
		}
	}
	var out []Prospect
	for _, o := range outcomes {
		sum := sums[o.Outcome]
		switch {
		case o.Cylinder == 0, most[o.Outcome] >= lone*sum && most[o.Outcome] <= 1:
			out = append(out, o)
		case o.P == most[o.Outcome]: // told once, in the place of the likeliest
			o.Words = strings.Replace(o.Words, cylinderName(o.Cylinder), "one cylinder", 1)
			o.P, o.Then = sum, "go on at that cylinder"
			out = append(out, o)
			most[o.Outcome] = 2
		}
	}
	sortProspects(out)
	return out
}

// percent is a chance in words that never claim certainty.
func percent(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

func cylinderName(c engine.Cylinder) string { return fmt.Sprintf("cylinder %d", c) }

// capital is a text that begins a sentence.
func capital(text string) string {
	if text == "" {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}
