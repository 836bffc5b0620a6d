package order

import (
	"math"
	"testing"

	"halforder/finding"
)

// Two opinions that tell of one pattern do not clash; two that are each sure of
// another do, by about what they are sure of.
func TestOpinionsOnOtherPatternsClash(t *testing.T) {
	all := finding.AllWork(4)
	sure := func(best finding.Pattern) map[finding.Pattern]float64 {
		log := map[finding.Pattern]float64{}
		for _, p := range namedPatterns(4) {
			log[p] = 0
		}
		log[best] = 12
		return log
	}
	both := func(a, b map[finding.Pattern]float64) map[finding.Pattern]float64 {
		log := map[finding.Pattern]float64{}
		for p, v := range a {
			log[p] = v + b[p]
		}
		return log
	}
	first, second := sure(all.With(1, finding.Dead)), sure(all.With(2, finding.Dead))
	if c := clash(first, first, both(first, first)); c != 0 {
		t.Errorf("the same pattern clashes by %.2f", c)
	}
	if c := clash(first, second, both(first, second)); c > -5 {
		t.Errorf("two patterns clash by %.2f only", c)
	}
	nothing := sure(all)
	nothing[all] = 0
	if c := clash(first, nothing, first); math.Abs(c) > 1e-9 {
		t.Errorf("an opinion clashes with none by %.2f", c)
	}
}

// Of a cut in which the engine dies at once nothing is measured but the slot that
// went: a silence makes every slot look like the cut one.
func TestADyingCutTellsNoShares(t *testing.T) {
	re := replay{shares: [][][]float64{{{1, 0, 0, 0}}}, bass: [][]bassShares{nil}, during: [][]cycle{make([]cycle, heldCycles-1)}}
	if w := (&table{n: 4}).slotWeigher(nil, re, 0, true); w.shares != nil {
		t.Errorf("shares %v of %d cycles", w.shares, heldCycles-1)
	}
	re.during[0] = make([]cycle, heldCycles)
	if w := (&table{n: 4}).slotWeigher(nil, re, 0, true); w.shares == nil {
		t.Error("no shares of a cut that lasts")
	}
}
