package report

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

const (
	mostClaims  = 6
	leastClaim  = 0.01 // rarer causes are left out
	mostMovers  = 3
	likelyDead  = 0.5
	likelyFault = 0.5
	worthSaying = 0.05
)

// believed lists the likeliest causes, always with what is left over.
func believed(j Job) []Claim {
	b := j.Belief
	out := troubled(j)
	listed := len(out)
	for _, s := range b.Suspects() {
		if len(out)-listed == mostClaims || s.P < leastClaim {
			break
		}
		if s.Cause != fault.Unlisted && s.Cause != fault.UnlistedAll {
			out = append(out, Claim{s.Fault.String(), s.P})
		}
	}
	return append(out, Claim{"not a misfire", b.NotMisfire()}, Claim{"something not in the list", b.NotListed()})
}

// troubled names the cylinders where the trouble most likely sits, as the parts
// sit now; what touches them all is no trouble of any one.
func troubled(j Job) []Claim {
	var out []Claim
	least := 1.0
	for _, s := range j.Belief.Cylinders(j.Card.Seating, j.Card.Opened.Regime, j.Card.Mended...) {
		if s.Fault > likelyFault {
			out = append(out, Claim{fmt.Sprintf("the trouble is at cylinder %d", s.Cylinder), s.Fault})
			least = min(least, s.Fault)
		}
	}
	if n := j.Card.Layout().N(); n > 1 && len(out) == n {
		return []Claim{{"the trouble is one of the whole engine", least}}
	}
	return out
}

// moved says which entries moved the leading cause most, as odds.
func moved(j Job) []string {
	suspects := j.Belief.Suspects()
	if len(suspects) == 0 {
		return nil
	}
	var out []string
	for _, m := range j.Belief.MovedBy(suspects[0].Fault) {
		if len(out) == mostMovers || math.Abs(m.LogRatio) < math.Ln2/2 {
			break
		}
		out = append(out, m.ID+" "+oddsWords(m.LogRatio))
	}
	if len(out) > 0 {
		out[0] = "For " + suspects[0].Fault.String() + ": " + out[0]
	}
	return out
}

// doubt is how wrong a prior may well be, as a factor either way.
const doubt = 2

// priors says how far the leading suspect rests on how common its cause was taken
// to be, and where that comes from.
func priors(j Job) []string {
	suspects := j.Belief.Suspects()
	if len(suspects) == 0 || suspects[0].P < leastClaim {
		return nil
	}
	lead := suspects[0]
	low, high := belief.IfPriorWrong(lead.P, doubt)
	stands := Percent(low) + " to " + Percent(high)
	if Percent(low) == Percent(high) {
		stands = Percent(low)
	}
	words := fmt.Sprintf("Were %s half or twice as common as taken, it would stand at %s", lead.Fault, stands)
	if rival, ok := overtakes(suspects, low); ok {
		words += ", and " + rival.String() + " might lead instead"
	} else {
		words += " and still lead"
	}
	out := []string{words}
	if j.Learned > 0 {
		out = append(out, fmt.Sprintf("How common causes are: the list's judgement, moved by %d closed %s of this workshop", j.Learned, plural(j.Learned, "job", "jobs")))
	}
	return out
}

// overtakes is the first suspect of another cause that would stand above low if
// it were more common than taken.
func overtakes(suspects []belief.Suspect, low float64) (belief.Fault, bool) {
	for _, s := range suspects[1:] {
		if s.Cause == suspects[0].Cause {
			continue
		}
		_, high := belief.IfPriorWrong(s.P, doubt)
		return s.Fault, high > low
	}
	return belief.Fault{}, false
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// oddsWords is what an entry did to the odds of a cause.
func oddsWords(logRatio float64) string {
	odds := math.Exp(math.Abs(logRatio))
	times := fmt.Sprintf("%.1f times", odds)
	switch {
	case odds > 1000:
		times = "more than 1000 times"
	case odds > 10:
		times = fmt.Sprintf("%.0f times", odds)
	}
	if logRatio < 0 {
		return "speaks against it and makes the odds " + times + " lower"
	}
	return "speaks for it and makes the odds " + times + " higher"
}

// cautions are the dangers of this car and this state, once each.
func cautions(j Job) []string {
	o := j.Card.Opened
	out := IntakeCautions(o)
	if dead := deadCylinders(j); len(dead) > 0 && len(j.Card.Repairs) == 0 {
		out = append(out, fmt.Sprintf("Unburnt fuel of %s goes to the catalyst: keep runs short%s.", engine.Places(dead), unplugInjector(o.Injection)))
	}
	return out
}

// IntakeCautions are what must be said of a car before its engine runs.
func IntakeCautions(o job.Opened) []string {
	var out []string
	if o.Lamp == job.LampFlashing {
		out = append(out, "The flashing lamp means fuel burns in the catalyst: keep runs short and unloaded, do not drive it.")
	}
	if o.Hybrid {
		out = append(out, "High-voltage drive: the engine may start by itself. Work on it only with the training the law asks for.")
	}
	return out
}

func unplugInjector(i fault.Injection) string {
	if i == fault.Port {
		return ", and unplug its injector before running on"
	}
	return ""
}

// open lists what is not settled; a report without open points has earned it.
func open(j Job) []string {
	c := j.Card
	var out []string
	for _, s := range c.Swaps {
		if s.Watched == nil {
			out = append(out, fmt.Sprintf("entry %d: what the miss did after the swap is not entered", s.Seq))
		}
	}
	switch _, proven := c.Proven(); {
	case len(c.Repairs) == 0:
		out = append(out, "nothing has been repaired yet")
	case !proven:
		out = append(out, "the repair is not proven: watch it "+regimeWords(c.Opened.Regime)+", as the complaint was")
	}
	if j.Belief != nil && j.Belief.NotListed() > worthSaying {
		out = append(out, "a cause outside the list is still possible ("+Percent(j.Belief.NotListed())+")")
	}
	if len(c.Codes) > 0 {
		out = append(out, "trouble codes are still stored: clear them only after the proof, and say that readiness starts anew")
	}
	if c.Cash > 0 && len(c.Agreements) == 0 {
		out = append(out, "the customer's consent is not on the card")
	}
	return out
}
