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
		usual := max(changeOfOthers(e.strength, d.strength, slot), quietFloor) * max(e.strength[slot], quietFloor)
		rests = append(rests, max(d.strength[slot], 0)/usual)
		errs = append(errs, math.Hypot(d.spread[slot], e.spread[slot])/usual)
	}
	return rests, errs
}

// changeOfOthers is how much louder the others are with one of them cut. The next
// one is left out where there are more: the cut one sounded on into it.
func changeOfOthers(before, during []float64, slot int) float64 {
	n := len(before)
	var a, b float64
	for k := range n {
		if k != slot && (k != (slot+1)%n || n == 2) {
			a, b = a+max(before[k], 0), b+max(during[k], 0)
		}
	}
	return b / max(a, quietFloor)
}

// cutPath is highPath with room for cylinders that are heard all alike, as at one
// tailpipe. Judgement (prior).
var cutPath = prior{{0.05, 0.15}, {0.10, 0.20}, {0.22, 0.30}, {0.45, 0.25}, {0.90, 0.10}}

// What stays of another cylinder against what stayed of the cut one: valves and
// injectors have their own ways too. Judgement (prior).
var restDoubt = prior{{0.6, 0.25}, {1, 0.5}, {1.6, 0.25}}

// What stays of one that comes after a dead one against what stays after a firing
// that sounds on into its slot, or does not. Judgement (prior).
var behindDoubt = prior{{0.4, 0.5}, {1, 0.5}}

// weakShares is how much a weak cylinder may be heard to do against a dead one,
// where a cut tells what a dead one is. A quarter less fuel, six tenths of the
// work, is heard as six to eight tenths. Judgement (prior).
var weakShares = prior{{0.35, 0.25}, {0.55, 0.35}, {0.7, 0.4}}

// knowing are the tables of the upper views alone where a cut of a slot shows what
// stays of a firing: the first if the one before it fires, the second if that is
// dead. Nil where the cut was too short for that, or nothing went.
func (t *table) knowing(f *folded, during []cycle, slot int) []*table {
	if len(during) < heldCycles || len(t.high) == 0 {
		return nil
	}
	rests, errs := t.restsOf(f, during, slot)
	slower := meanSeconds(during) / meanSeconds(f.cycles)
	after, behind := t.withRests(), t.withRests()
	for b, e := range t.high {
		after.know(e.leaves(afterFiring(rests[b], errs[b], slower)))
		behind.know(e.leaves(afterDead(rests[b] + errs[b])))
	}
	return []*table{after, behind}
}

// What stays of a firing at the speed before the cut against what stayed in it,
// as a power of the speed: valves and pumping are louder the faster the engine
// turns, engine noise by 30 to 50 dB a decade (from memory); firings, by which it
// is measured, less so. Judgement (prior).
var slowerDoubt = prior{{0, 0.4}, {1, 0.35}, {2, 0.25}}

// left is what stays of a dead cylinder after one that fires and after a dead one,
// with a weight.
type left struct{ after, behind, weight float64 }

// afterFiring is what may stay of others where this stays of one after a firing, in
// a cut in which the cycles were longer by a ratio.
func afterFiring(rest, err, slower float64) (out []left) {
	for _, d := range restDoubt {
		for _, s := range slowerDoubt {
			after := min(rest*d.value*math.Pow(max(slower, 1), s.value)+err, 1)
			for _, b := range behindDoubt {
				out = append(out, left{after, after * b.value, d.weight * s.weight * b.weight})
			}
		}
	}
	return out
}

// afterDead is the same where this stays of one after a dead one: after a firing
// it is no less.
func afterDead(rest float64) (out []left) {
	for _, r := range highRest {
		out = append(out, left{min(max(rest, r.value), 1), min(rest, 1), r.weight})
	}
	return out
}

func (e evidence) leaves(all []left) evidence {
	e.rest, e.behind = nil, nil
	for _, l := range all {
		e.rest = append(e.rest, struct{ value, weight float64 }{l.after, l.weight})
		e.behind = append(e.behind, l.behind)
	}
	return e
}

// soundsOn is the table for names where nothing is known of a cut yet: a firing of
// five and more sounds on into the next slot, so that a dead one behind another
// dead one may be quieter than the first, and a working one as well.
func (t *table) soundsOn() *table {
	out := *t
	out.high, out.views, out.none = nil, t.low, t.none[:len(t.low):len(t.low)]
	out.known = map[finding.Pattern][][]float64{}
	for _, e := range t.high {
		e = e.leaves(afterAnything()).ready()
		out.high, out.rests = append(out.high, e), e.rest
		out.none = append(out.none, e.logLikelihoods(workOf(finding.AllWork(t.n)))[0])
	}
	out.views = append(t.low[:len(t.low):len(t.low)], out.high...)
	out.none = append(out.none, t.none[len(t.views):]...)
	if out.high == nil {
		return t
	}
	return &out
}

// afterAnything is what may stay of a dead one where no cut shows it.
func afterAnything() (out []left) {
	for _, r := range highRest {
		for _, b := range behindDoubt {
			out = append(out, left{r.value, r.value * b.value, r.weight * b.weight})
		}
	}
	return out
}

func (t *table) withRests() *table { return &table{n: t.n, highShare: t.highShare} }

// know adds a view, all of the same weights.
func (t *table) know(e evidence) {
	e.path = cutPath
	e = e.ready()
	t.high, t.rests = append(t.high, e), e.rest
	t.views = t.high
	t.none = append(t.none, e.logLikelihoods(workOf(finding.AllWork(t.n)))[0])
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
