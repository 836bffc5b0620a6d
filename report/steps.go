package report

import (
	"math"
	"strings"

	"halforder/job"
	"halforder/reason/plan"
)

// Steps words suggestions of the plan.
func Steps(suggestions []plan.Suggestion) []Step {
	var out []Step
	for _, s := range suggestions {
		out = append(out, Step{What: s.Title, Why: s.Why, Answers: answers(s.Outcomes), Cost: cost(s),
			Needs: s.Needs, Cautions: s.Cautions, Stops: s.Stops})
	}
	return out
}

// NothingNext says what is left to do of a job for which the plan proposes nothing.
func NothingNext(c *job.Card) string {
	codes := ""
	if len(c.Codes) > 0 {
		codes = "clear the codes, "
	}
	_, proven := c.Proven()
	switch {
	case c.Status == job.StatusProven:
		return "The repair is proven: " + codes + "hand over, close the job."
	case c.Status == job.StatusClosed && proven:
		return "The job is closed and its repair is proven: nothing is left to check. If the complaint comes back, open a new job."
	case c.Status == job.StatusClosed:
		return "The job is closed without a proven repair. To go on with it, take the closing back."
	}
	return "No check pays and no repair is worth trying: hand the job on, or look outside the list."
}

// answers says of the likeliest answers what they would rule out and what they
// would leave open. Of a sweep the likeliest cylinder stands for the others.
func answers(outcomes []plan.Prospect) []string {
	var out []string
	told := map[string]bool{}
	for _, o := range outcomes {
		if told[o.Outcome] || len(told) == mostAnswers {
			continue
		}
		told[o.Outcome] = true
		var parts []string
		if len(o.RulesOut) > 0 {
			parts = append(parts, "rules out "+strings.Join(o.RulesOut[:min(mostAnswers, len(o.RulesOut))], ", "))
		}
		if len(o.Open) > 0 {
			parts = append(parts, "still open: "+strings.Join(o.Open, ", "))
		}
		if len(parts) > 0 {
			out = append(out, o.Words+": "+strings.Join(parts, "; "))
		}
	}
	return out
}

const mostAnswers = 3

func cost(s plan.Suggestion) string {
	text := Duration(s.Minutes * 60)
	if s.Cash > 0 {
		text += ", parts " + Money(int64(math.Round(s.Cash*100)))
	}
	return text
}
