package report

import (
	"fmt"

	"halforder/engine"
	"halforder/job"
)

// proof tells each attempt to prove the repair, with both measures.
func proof(c *job.Card) []string {
	var out []string
	for _, p := range c.Proofs {
		if before, after := sentence(c, p.What.Before), sentence(c, p.What.After); before != "" && after != "" {
			out = append(out, "before: "+before, "after: "+after)
		}
		verdict := "not proven"
		if p.What.Proven {
			verdict = fmt.Sprintf("proven, %s sure", Percent(p.What.Confidence))
		}
		out = append(out, fmt.Sprintf("[%d] %s: %s", p.Seq, verdict, p.What.Why))
	}
	return out
}

func sentence(c *job.Card, sha256 string) string {
	for _, f := range c.Findings {
		if f.What.SHA256 == sha256 {
			return f.What.Finding.Sentence
		}
	}
	return ""
}

// deadCylinders are those that are most likely dead as the parts sit now.
func deadCylinders(j Job) []engine.Cylinder {
	if j.Belief == nil {
		return nil
	}
	var out []engine.Cylinder
	for _, s := range j.Belief.Cylinders(j.Card.Seating, j.Card.Opened.Regime, j.Card.Mended...) {
		if s.Dead > likelyDead {
			out = append(out, s.Cylinder)
		}
	}
	return out
}
