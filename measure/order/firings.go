package order

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// placing says how likely each firing of a run of cycles is whose.
type placing struct {
	run   *folded
	when  string // it was, after "One engine cycle"; empty for the last ones
	table *table
	first [2][]float64 // by kind of view: chance that this slot is the first cylinder's of the firing order
}

// The kinds of views: each kind counts its slots from where its own pulse stands,
// for the bass arrives later than the rest.
const (
	byUpper = iota
	byBass
)

func kindOf(low bool) int {
	if low {
		return byBass
	}
	return byUpper
}

// surest is the highest chance of one kind.
func (p placing) surest(kind int) float64 {
	if len(p.first[kind]) == 0 {
		return 0
	}
	return slices.Max(p.first[kind])
}

// drawn is the run of cycles to be drawn: one in which the firings have names,
// if there is one, else the last.
func (h *heard) drawn(l *finding.Likelihood, last []cycle) placing {
	if l == nil || l.Anonymous {
		return placing{run: h.folded(last)}
	}
	var best placing
	for _, p := range h.placings {
		if max(p.surest(byUpper), p.surest(byBass)) > max(best.surest(byUpper), best.surest(byBass), nameChance) {
			best = p
		}
	}
	if best.run == nil {
		f := h.folded(last)
		best = placing{run: f, table: newTable(weigh(f), h.ratioOf(f), h.layout.N())}
	}
	for kind, first := range best.first {
		if first == nil {
			best.first[kind] = best.table.firstOf(l, kind == byBass)
		}
	}
	return best
}

// firstOf tells from the pattern alone which slot is the first cylinder's, once
// it is known who is dead: a dead one is where it is quiet.
func (t *table) firstOf(l *finding.Likelihood, low bool) []float64 {
	if low && len(t.low) == 0 || !low && len(t.high) == 0 {
		return nil
	}
	out := make([]float64, t.n)
	total := math.Inf(-1)
	for p, v := range l.Log {
		total = logAdd(total, v+namedPrior(p))
	}
	for p, v := range l.Log {
		turns := make([]float64, t.n)
		for k := range turns {
			bass, upper := t.both(t.bands(p.Rotate(-k)))
			turns[k] = upper
			if low {
				turns[k] = bass
			}
		}
		for k, c := range chances(turns) {
			out[k] += math.Exp(v + namedPrior(p) - total + c)
		}
	}
	return out
}

// placeByMark keeps what a mark says of the slots.
func (h *heard) placeByMark(f *folded, t *table, turns []float64) {
	first := make([]float64, len(turns))
	for k, v := range chances(turns) {
		first[k] = math.Exp(v)
	}
	h.placings = append(h.placings, placing{run: f, table: t, first: [2][]float64{byUpper: first}})
}

// placeByCut keeps what a cut says of them: by slot, how likely it is that this
// one fell quiet, and last that none did.
func (h *heard) placeByCut(r reel, f *folded, t *table, weights []float64, byLow bool) {
	n, at := h.layout.N(), h.layout.Position(r.Cylinder)
	first := make([]float64, n)
	for j, v := range chances(weights)[:n] {
		first[(j-at+n)%n] = replayTrusted * math.Exp(v)
	}
	p := placing{run: f, table: t, when: fmt.Sprintf(" before cylinder %d was cut", r.Cylinder)}
	p.first[kindOf(byLow)] = first
	if slices.Max(first) < nameChance {
		return
	}
	h.placings = append(h.placings, p)
}

// cylinder is whose firing a slot of a view is, 0 where that is not known. The
// pulse is that of the view's first slot.
func (p placing) cylinder(slot int, low bool, pulse float64, layout engine.Layout) engine.Cylinder {
	if p.surest(kindOf(low)) < nameChance {
		return 0
	}
	views, n := p.table.high, layout.N()
	if low {
		views = p.table.low
	}
	if layout.Even() { // as weigh numbers them
		slot += int(math.Round(pulse - views[0].pulse))
	}
	first := p.first[kindOf(low)]
	return layout.At(((slot-slices.Index(first, slices.Max(first)))%n + n) % n)
}

// labels name the firings of a view, by cylinder where all are known, else by
// their place.
func (p placing) labels(low bool, pulse float64, layout engine.Layout) (labels []string, known bool) {
	for k := range layout.N() {
		c := p.cylinder(k, low, pulse, layout)
		if known = c != 0; !known {
			labels = append(labels, place(k))
			continue
		}
		labels = append(labels, fmt.Sprintf("cyl %d", c))
	}
	return labels, known
}

// place names a firing by its place in the cycle, from an unknown first.
func place(k int) string { return fmt.Sprintf("%d.", k+1) }

// whose says in a note what the labels mean. On practice engines cuts of other
// cylinders gave the same places over the engine 56 times of 56, at the tailpipe 37
// of 42.
func whose(known bool) string {
	if known {
		return "each firing by its cylinder; at the tailpipe it may be another"
	}
	return "firings in their order; which cylinder is which is not known here"
}
