package order

import (
	"math"

	"halforder/finding"
)

// restsOf is what stays of a firing in each upper view when its cylinder is cut,
// against before and beside what the others change, and the error of each: how
// deep a missing firing is in this very sound, band by band.
func (t *table) restsOf(f *folded, during []cycle, slot int) (rests, errs []float64) {
	whole := foldAll(during, len(f.bands), f.harmonics, f.layout, nil)
	parts := whole.parts()
	for _, e := range t.high {
		d := whole.evidenceAt(e, parts).turnedBy(e.turn)
		var others []float64
		for k, s := range d.strength {
			if k != slot {
				others = append(others, s/max(e.strength[k], quietFloor))
			}
		}
		usual := max(median(others), quietFloor) * max(e.strength[slot], quietFloor)
		rests = append(rests, max(d.strength[slot], 0)/usual)
		errs = append(errs, math.Hypot(d.spread[slot], e.spread[slot])/usual)
	}
	return rests, errs
}

// cutPath is highPath with room for cylinders that are heard all alike, as at one
// tailpipe. Judgement (prior).
var cutPath = prior{{0.05, 0.15}, {0.10, 0.20}, {0.22, 0.30}, {0.45, 0.25}, {0.90, 0.10}}

// What stays of another cylinder against what stayed of the cut one: valves and
// injectors have their own ways too. Judgement (prior).
var restDoubt = prior{{0.6, 0.25}, {1, 0.5}, {1.6, 0.25}}

// weakShares is how much a weak cylinder may be heard to do against a dead one,
// where a cut tells what a dead one is. A quarter less fuel, six tenths of the
// work, is heard as six to eight tenths. Judgement (prior).
var weakShares = prior{{0.35, 0.25}, {0.55, 0.35}, {0.7, 0.4}}

// knowing is the table of the upper views alone where a cut of a slot shows what
// stays of a firing; nil where the cut was too short for that, or nothing went.
func (t *table) knowing(f *folded, during []cycle, slot int) *table {
	if len(during) < heldCycles || len(t.high) == 0 {
		return nil
	}
	rests, errs := t.restsOf(f, during, slot)
	out := &table{n: t.n, highShare: t.highShare, rests: restDoubt}
	for b, e := range t.high {
		e.rest = nil
		for _, d := range restDoubt {
			e.rest = append(e.rest, struct{ value, weight float64 }{min(rests[b]*d.value+errs[b], 1), d.weight})
		}
		e = e.ready()
		out.high = append(out.high, e)
		out.none = append(out.none, e.logLikelihoods(workOf(finding.AllWork(t.n)))[0])
	}
	out.views = out.high
	return out
}

// weakWorks are what a pattern may mean: its weak cylinders may do more or less.
func weakWorks(p finding.Pattern) (works [][]float64, weights []float64) {
	if p.Count(finding.Weak) == 0 {
		return [][]float64{workOf(p)}, []float64{1}
	}
	for _, w := range weakShares {
		work := workOf(p)
		for k := range work {
			if finding.State(p[k]) == finding.Weak {
				work[k] = w.value
			}
		}
		works, weights = append(works, work), append(weights, w.weight)
	}
	return works, weights
}
