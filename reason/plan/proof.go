package plan

import (
	"errors"
	"fmt"
	"math"

	"halforder/reason/fault"
)

// Watch is a stretch of running in one regime, measured the same way.
type Watch struct {
	Regime  fault.Regime `json:"regime"`
	Measure string       `json:"measure"` // how it was watched, "record" or "counters"
	Seconds float64      `json:"seconds"`
	Misses  int          `json:"misses"` // bursts, not single firings: misfires come in bursts
}

// Verdict on a repair.
type Verdict string

// The verdicts.
const (
	Proven    Verdict = "proven"
	NotProven Verdict = "not proven"
	NotFixed  Verdict = "not fixed"
)

// Proof is how far a repair is shown to have worked.
type Proof struct {
	Verdict    Verdict      `json:"verdict"`
	Confidence float64      `json:"confidence"` // that the miss would have shown by now, were it still there
	Regime     fault.Regime `json:"regime"`     // in which it has to be shown
	Watched    float64      `json:"watched_s"`  // after the repair, in that regime
	Needed     float64      `json:"needed_s"`   // still to watch for the confidence wanted
	Sentence   string       `json:"sentence"`
}

// regimeOf is the regime in which a complaint has to be shown to be gone.
func regimeOf(c fault.Complaint) fault.Regime {
	switch c {
	case fault.ColdOnly:
		return fault.Cold
	case fault.LoadOnly:
		return fault.Loaded
	}
	return fault.Idle
}

// floorSeconds is the least time to watch after a repair, however often the miss
// came before. Common practice, no source.
const floorSeconds = 60

// Prove compares the watches before and after a repair. Only those in the
// regime of the complaint count, and only with the measure that was used
// before. wanted is the confidence asked for, such as 0.95. A miss that came at
// a rate r before would have shown in t seconds with chance 1 − e^(−r·t); r is
// known only from the misses counted before, so its uncertainty (gamma, by the
// count plus a half) is averaged over.
func Prove(c fault.Complaint, before, after []Watch, wanted float64) (Proof, error) {
	if err := checkConfidence(wanted); err != nil {
		return Proof{}, err
	}
	for _, w := range append(append([]Watch{}, before...), after...) {
		if !(w.Seconds > 0) || math.IsInf(w.Seconds, 1) || w.Misses < 0 {
			return Proof{}, fmt.Errorf("watched for %g s with %d misses: a time above 0 and a count are needed", w.Seconds, w.Misses)
		}
	}
	p := Proof{Regime: regimeOf(c)}
	measure, misses, seconds, err := baseline(before, p.Regime)
	if err != nil {
		return Proof{}, err
	}
	again := 0
	for _, w := range after {
		if w.Regime == p.Regime && w.Measure == measure {
			p.Watched += w.Seconds
			again += w.Misses
		}
	}
	p.judge(misses, seconds, again, wanted)
	p.Sentence = p.words(measure, again, wanted)
	return p, nil
}

// baseline sums the watches before the repair, all with the measure that was
// used longest.
func baseline(before []Watch, r fault.Regime) (measure string, misses int, seconds float64, err error) {
	by := map[string]float64{}
	for _, w := range before {
		if w.Regime == r && w.Misses > 0 {
			by[w.Measure] += w.Seconds
			if by[w.Measure] > by[measure] || measure == "" {
				measure = w.Measure
			}
		}
	}
	for _, w := range before {
		if w.Regime == r && w.Measure == measure && by[measure] > 0 {
			misses += w.Misses
			seconds += w.Seconds
		}
	}
	if misses == 0 {
		return "", 0, 0, fmt.Errorf("no miss was measured in regime %s before the repair: there is nothing to compare with. Say how often it came, or prove it by a long run", r)
	}
	return measure, misses, seconds, nil
}

// judge fills in verdict, confidence and time. With k misses in s seconds the
// chance of t clean ones were nothing changed is (s/(s+t))^(k+½).
func (p *Proof) judge(k int, s float64, again int, wanted float64) {
	shape := float64(k) + 0.5
	p.Confidence = 1 - math.Pow(s/(s+p.Watched), shape)
	need := max(s*(math.Pow(1-wanted, -1/shape)-1), floorSeconds)
	p.Needed = max(0, need-p.Watched)
	switch {
	case again > 0:
		p.Verdict, p.Confidence, p.Needed = NotFixed, 0, need
	case p.Needed > 0:
		p.Verdict = NotProven
	default:
		p.Verdict = Proven
	}
}

func (p *Proof) words(measure string, again int, wanted float64) string {
	where := map[fault.Regime]string{fault.Idle: "at idle", fault.Cold: "from a cold start", fault.Loaded: "under load"}[p.Regime]
	switch {
	case again > 0:
		return fmt.Sprintf("Not fixed: %d misses %s after the repair.", again, where)
	case p.Watched == 0:
		return fmt.Sprintf("Not proven: the complaint was %s and nothing was watched there with %q since. Watch %s.", where, measure, minutes(p.Needed))
	case p.Verdict == Proven:
		return fmt.Sprintf("Proven: no miss in %s %s; were the fault still there it would have shown with %.0f %%.", minutes(p.Watched), where, 100*p.Confidence)
	}
	return fmt.Sprintf("Not proven yet: no miss in %s %s, which shows it with %.0f %%; watch %s more for %.0f %%.",
		minutes(p.Watched), where, 100*p.Confidence, minutes(p.Needed), 100*wanted)
}

func minutes(seconds float64) string {
	if seconds < 120 {
		return fmt.Sprintf("%.0f s", math.Ceil(seconds))
	}
	return fmt.Sprintf("%.0f min", math.Ceil(seconds/60))
}

var errNoAges = errors.New("no ages given: at least two failures are needed")
