package report

import (
	"fmt"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
)

// Sheet is what the customer takes home, in their words and not the workshop's.
// Only the page, for paper and screen, shows it.
type Sheet struct {
	Said, Found, Did, Fixed []string
	Mind                    []string // what to mind from now on
	Spent                   []Fact
}

func sheet(j Job) Sheet {
	c := j.Card
	return Sheet{Said: complaint(c, j.Catalogue)[:1], Found: foundForCustomer(j), Did: doneForCustomer(c), Fixed: []string{fixedForCustomer(c)},
		Mind: toMind(c), Spent: spent(c)}
}

// foundForCustomer is the cause as it was closed, else the likeliest one that is
// more likely than not.
func foundForCustomer(j Job) []string {
	if c := j.Card.Closing; c != nil && c.What.Cause != "" {
		return []string{c.What.Cause}
	}
	if j.Belief == nil {
		return []string{"What causes it is not certain yet."}
	}
	if p := j.Belief.NotMisfire(); p > likelyFault {
		return []string{"Most likely no cylinder misses: the trouble is elsewhere (" + Percent(p) + " sure)."}
	}
	suspects := j.Belief.Suspects()
	if len(suspects) == 0 || suspects[0].P <= likelyFault || suspects[0].Cause == fault.Unlisted || suspects[0].Cause == fault.UnlistedAll {
		return []string{"What causes it is not certain yet."}
	}
	lead := suspects[0]
	words := "Most likely: " + lead.Title
	if at := engine.Places(lead.Site.Cylinders); at != "" {
		words += ", " + at
	}
	return []string{words + " (" + Percent(lead.P) + " sure)."}
}

func doneForCustomer(c *job.Card) []string {
	var out []string
	for _, r := range c.Repairs {
		words := r.What.Words
		at := engine.Places(r.What.Cylinders)
		if r.What.Part != "" {
			words = strings.Join(nonEmpty(string(r.What.Part)+" renewed", r.What.Words), ": ")
			at = engine.Places([]engine.Cylinder{r.What.Cylinder})
		}
		if at != "" {
			words += fmt.Sprintf(" (%s)", at)
		}
		out = append(out, words)
	}
	return out
}

func fixedForCustomer(c *job.Card) string {
	proof, proven := c.Proven()
	switch {
	case proven:
		return "Yes: after the work it was measured or watched again as before, and the fault no longer shows (" + Percent(proof.What.Confidence) + " sure)."
	case len(c.Repairs) == 0:
		return "Nothing has been repaired."
	}
	return "Not shown yet: the work is done, but no test after it has shown that the fault is gone."
}

// toMind is what the driver should know. That unburnt fuel overheats a catalyst, and
// that clearing codes resets readiness: common practice, no source.
func toMind(c *job.Card) []string {
	var out []string
	_, proven := c.Proven()
	if !proven {
		out = append(out, "If the engine lamp flashes, do not drive on: unburnt fuel overheats the exhaust, which can start a fire.")
	}
	if len(c.Codes) > 0 {
		out = append(out, "Trouble codes are still stored in the car. After they are cleared, it may have to be driven for some days before an emission inspection accepts it.")
	}
	return append(out, "If it comes back, note when: cold or hot, standing or pulling, dry or wet.")
}
