package job

import (
	"fmt"
	"math"

	"halforder/reason/fault"
	"halforder/reason/plan"
)

// stretchPlan is how to prove a repair in stretches of some seconds: a car not
// repaired misses in a share of them that follows from how often the miss came, a
// repaired one in as many as a person notes by mistake. Both risks are those of
// ProofLevel.
func (c *Card) stretchPlan(cat *fault.Catalogue, seconds float64) (plan.Sequential, error) {
	bad, err := plan.CleanConfidence(c.missEvery(), seconds)
	if err != nil {
		return plan.Sequential{}, err
	}
	s := plan.Sequential{Good: cat.Setting("watch-false"), Bad: min(bad, 0.999), False: 1 - ProofLevel, Missed: 1 - ProofLevel}
	if s.Bad <= 2*s.Good {
		least, err := plan.CleanTime(c.missEvery(), 4*s.Good)
		if err != nil {
			return s, err
		}
		return s, fmt.Errorf("stretches of %.0f s tell nothing of a miss that comes every %.0f s: make each at least %.0f s", seconds, c.missEvery(), math.Ceil(least))
	}
	return s, s.Check()
}

// weighStretches decides as early as the count allows.
func (c *Card) weighStretches(cat *fault.Catalogue, p *Proved, w Watch) error {
	if w.Misses > w.Stretches {
		return fmt.Errorf("%d of %d stretches with a miss: that cannot be", w.Misses, w.Stretches)
	}
	s, err := c.stretchPlan(cat, w.WatchedS/float64(w.Stretches))
	if err != nil {
		return err
	}
	verdict, err := s.Decide(w.Misses, w.Stretches)
	if err != nil {
		return err
	}
	rate, err := plan.ClopperPearson(w.Misses, w.Stretches, ProofLevel)
	if err != nil {
		return err
	}
	seen := fmt.Sprintf("a miss in %d of %d stretches (so in %.0f to %.0f %% of such stretches); with the fault it would be %.0f %%",
		w.Misses, w.Stretches, 100*rate.Low, 100*rate.High, 100*s.Bad)
	switch verdict {
	case plan.Accept:
		p.Proven, p.Confidence, p.Why = true, ProofLevel, seen
	case plan.Reject:
		p.Why = seen + ": it is not repaired, or there is a second fault"
	default:
		p.Why = fmt.Sprintf("%s: not decided yet, %d more without a miss prove it", seen, cleanNeeded(s, w.Misses, w.Stretches))
	}
	return nil
}

// mostStretches ends the search for how many are still needed.
const mostStretches = 10000

// cleanNeeded is how many more stretches without a miss accept the repair.
func cleanNeeded(s plan.Sequential, misses, n int) int {
	for more := 1; more < mostStretches; more++ {
		if accept, _ := s.Numbers(n + more); misses <= accept {
			return more
		}
	}
	return mostStretches
}

// inStretches says how a repair of a miss that comes now and then can be proven
// piece by piece, empty where the miss is steady.
func (c *Card) inStretches(cat *fault.Catalogue) string {
	if c.Opened.EveryS == 0 {
		return ""
	}
	s, err := c.stretchPlan(cat, c.Opened.EveryS)
	if err != nil {
		return ""
	}
	fixed, err := plan.CleanTrials(s.Bad, ProofLevel)
	if err != nil {
		return ""
	}
	_, bad := s.Mean()
	return fmt.Sprintf(" Or in stretches of %.0f s: %d in a row without a miss do, one slip noted by mistake does not spoil the proof at %d, and a fault that is still there shows after %.0f on average.",
		c.Opened.EveryS, max(fixed, cleanNeeded(s, 0, 0)), 1+cleanNeeded(s, 1, 1), math.Ceil(bad))
}
