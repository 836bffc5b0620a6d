package report

import (
	"math"

	"halforder/reason/plan"
)

// Steps words suggestions of the plan.
func Steps(suggestions []plan.Suggestion) []Step {
	var out []Step
	for _, s := range suggestions {
		out = append(out, Step{What: s.Title, Why: s.Why, Cost: cost(s),
			Needs: s.Needs, Cautions: s.Cautions, Stops: s.Stops})
	}
	return out
}

func cost(s plan.Suggestion) string {
	text := Duration(s.Minutes * 60)
	if s.Cash > 0 {
		text += ", parts " + Money(int64(math.Round(s.Cash*100)))
	}
	return text
}
