package order

import "math"

const (
	mostTroubled  = 4    // firings that miss now and then
	troubleRounds = 3    // in which each is found again with the others known
	troubleApart  = 5.0  // spreads between the kinds of another firing: what a miss leaves in the next cycles stands less apart. Judgement
	echoed        = 0.35 // correlation with the misses of another firing, from which it is their echo. Judgement
	echoCycles    = 3    // between a miss and its echo, at most
)

// troubled is one firing that misses now and then.
type troubled struct {
	kinds
	fit kindFit
}

// missesOfAll looks for one firing that misses in some cycles, and beside what
// it changes for another, until none is sure. A cycle misses when any of them
// does.
func (r *beatRun) missesOfAll() kinds {
	raw := r.features()
	if len(raw) < fewestCycles*r.n {
		return kinds{}
	}
	x := whitened(raw, r.n)
	first := r.mostTroubled(raw, x, kindTries)
	if !first.sure() {
		return first.kinds
	}
	found := []troubled{first}
	for len(found) < min(mostTroubled, r.n) {
		next := r.mostTroubled(without(found, raw), without(found, x), 3*r.n)
		if !next.sure() || next.apart < troubleApart || next.echoes(found) {
			break
		}
		found = append(found, next)
		r.refine(found, raw, x)
	}
	return r.any(found)
}

func (r *beatRun) mostTroubled(raw, x [][]float64, tries int) troubled {
	k, f := r.twoKindsOfCycles(raw, x, tries)
	return troubled{k, f}
}

// refine finds each anew with what the others change taken off.
func (r *beatRun) refine(found []troubled, raw, x [][]float64) {
	for range troubleRounds {
		for i := range found {
			others := append(append([]troubled(nil), found[:i]...), found[i+1:]...)
			var work kindWork
			f := newKindFit(without(others, x), r.n, found[i].fit.k, found[i].chance, &work)
			f.run(10)
			found[i] = troubled{r.named(f, without(others, raw)), *f}
		}
	}
}

// without takes off what the misses of troubled firings change on average.
func without(found []troubled, rows [][]float64) [][]float64 {
	out := matrix(len(rows), len(rows[0]))
	for j, v := range rows {
		copy(out[j], v)
	}
	for _, t := range found {
		effect := t.fit.effect(rows)
		for c, q := range t.chance {
			for s := range t.fit.n {
				row := out[t.fit.k+c*t.fit.n+s]
				for i, v := range effect[s] {
					row[i] -= q * v
				}
			}
		}
	}
	return out
}

// events gives the chance of a miss by cycle of the run, by where its firing lies.
func (t troubled) events() []float64 {
	var out []float64
	if t.slot < t.fit.k {
		out = append(out, 0) // the firing of the first cycle is not seen
	}
	return append(out, t.chance...)
}

// echoes reports whether its misses come with those of another, in the same cycle
// or some cycles before or after: speed, fuel and ears take that long to settle.
func (t troubled) echoes(found []troubled) bool {
	own := t.events()
	for _, f := range found {
		other := f.events()
		for lag := range echoCycles + 1 {
			if math.Abs(correlation(own[lag:], other)) > echoed || math.Abs(correlation(own, other[lag:])) > echoed {
				return true
			}
		}
	}
	return false
}

// correlation of what both have from their beginnings on.
func correlation(a, b []float64) float64 {
	n := min(len(a), len(b))
	a, b = a[:n], b[:n]
	ma, mb := mean(a), mean(b)
	var ab, aa, bb float64
	for i := range a {
		ab, aa, bb = ab+(a[i]-ma)*(b[i]-mb), aa+(a[i]-ma)*(a[i]-ma), bb+(b[i]-mb)*(b[i]-mb)
	}
	return ab / math.Sqrt(max(aa*bb, 1e-300))
}

// any joins them: the chance that any firing of a cycle misses. The rest is that
// of the first, which stands out most.
func (r *beatRun) any(found []troubled) kinds {
	out := found[0].kinds
	if len(found) == 1 {
		return out
	}
	all := found[0].events()
	for _, t := range found[1:] {
		events := t.events()
		all = all[:min(len(all), len(events))]
		for c, q := range events[:len(all)] {
			all[c] = 1 - (1-all[c])*(1-q)
		}
		out.apart = min(out.apart, t.apart)
	}
	if found[0].slot < found[0].fit.k {
		all = all[1:]
	}
	out.chance = all
	return out
}
