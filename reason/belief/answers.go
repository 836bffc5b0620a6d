package belief

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/reason/fault"
)

// Fault is a cause at a site.
type Fault struct {
	Cause    string         `json:"cause"`
	Title    string         `json:"title"`
	Site     Site           `json:"site"`
	Severity fault.Severity `json:"severity,omitempty"` // empty: any
}

// String is "coil failing inside (coil C)".
func (f Fault) String() string { return f.Title + " (" + f.Site.Name + ")" }

// Share is a named probability.
type Share struct {
	Name string  `json:"name"`
	P    float64 `json:"p"`
}

// Suspect is a fault and the probability that it is there, alone or with
// another.
type Suspect struct {
	Fault
	P float64 `json:"p"`
}

// Hypothesis is a set of faults and the probability that exactly these are
// there. No faults means "not a misfire".
type Hypothesis struct {
	Faults []Fault `json:"faults"`
	P      float64 `json:"p"`
}

func (h Hypothesis) String() string {
	if len(h.Faults) == 0 {
		return "not a misfire"
	}
	words := make([]string, len(h.Faults))
	for i, f := range h.Faults {
		words[i] = f.String()
	}
	return strings.Join(words, " with ")
}

// Car is the car the belief is about, defaults filled in.
func (b *Belief) Car() Car {
	c := b.m.car
	c.Seating = b.m.first.Clone()
	return c
}

// Catalogue is what the belief reasons with.
func (b *Belief) Catalogue() *fault.Catalogue { return b.m.cat }

// Evidence lists what the belief rests on.
func (b *Belief) Evidence() []Evidence { return slices.Clone(b.evidence) }

// Size is the number of hypotheses.
func (b *Belief) Size() int { return len(b.post) }

// NotMisfire is the probability that nothing misfires.
func (b *Belief) NotMisfire() float64 { return b.post[none] }

// Silent is the probability that all cylinders work, be there nothing wrong or only
// what makes none of them miss.
func (b *Belief) Silent() float64 {
	sum := 0.0
	b.each(func(faults []int, p float64) {
		if !slices.ContainsFunc(faults, func(i int) bool { return b.m.faults[i].severity != fault.SevQuiet }) {
			sum += p
		}
	})
	return min(sum, 1)
}

// NotListed is the probability of a cause that the catalogue lacks.
func (b *Belief) NotListed() float64 {
	sum := 0.0
	for i, p := range b.faultShares() {
		if b.m.faults[i].cause.Unlisted() {
			sum += p
		}
	}
	return sum
}

// faultShares are the probabilities that each single fault is there.
func (b *Belief) faultShares() []float64 {
	out := make([]float64, len(b.m.faults))
	b.each(func(faults []int, p float64) {
		for _, i := range faults {
			out[i] += p
		}
	})
	return out
}

// each calls f for every hypothesis with its faults (indices) and probability.
// The slice is reused.
func (b *Belief) each(f func(faults []int, p float64)) {
	f(nil, b.post[none])
	set := make([]int, 3)
	for k, i := range b.h.singles {
		set[0] = i
		f(set[:1], b.post[1+k])
	}
	for i, seconds := range b.h.second {
		set[0] = i
		for k, j := range seconds {
			set[1] = int(j)
			f(set[:2], b.post[b.h.start[i]+k])
		}
	}
	base := len(b.post) - len(b.h.triples)
	for k, t := range b.h.triples {
		set[0], set[1], set[2] = int(t[0]), int(t[1]), int(t[2])
		f(set, b.post[base+k])
	}
}

func (b *Belief) faultAt(i int) Fault {
	f := &b.m.faults[i]
	return Fault{f.cause.Code, f.cause.Title, b.m.sites[f.site], f.severity}
}

// Suspects lists every cause at every site, most likely first; severities are
// taken together.
func (b *Belief) Suspects() []Suspect {
	type key struct {
		cause *fault.Cause
		site  int
	}
	sums := map[key]float64{}
	var order []key
	for i, p := range b.faultShares() {
		f := &b.m.faults[i]
		k := key{f.cause, f.site}
		if _, ok := sums[k]; !ok {
			order = append(order, k)
		}
		sums[k] += p
	}
	out := make([]Suspect, len(order))
	for i, k := range order {
		out[i] = Suspect{Fault{k.cause.Code, k.cause.Title, b.m.sites[k.site], ""}, sums[k]}
	}
	slices.SortStableFunc(out, func(x, y Suspect) int { return cmp.Compare(y.P, x.P) })
	return out
}

// Causes is the probability of each cause anywhere, most likely first.
func (b *Belief) Causes() []Share {
	return b.shares(func(f *singleFault) string { return f.cause.Code })
}

// Parts is the probability that each part is bad, most likely first.
func (b *Belief) Parts() []Share {
	return b.shares(func(f *singleFault) string { return string(b.m.sites[f.site].Part) })
}

// Places is the probability that something that does not move is wrong at one
// cylinder ("cylinder 3"), most likely first.
func (b *Belief) Places() []Share {
	return b.shares(func(f *singleFault) string { return b.ifPlace(f, 1) })
}

// Groups is the probability that something several cylinders share is wrong
// ("bank 1", "engine"), most likely first.
func (b *Belief) Groups() []Share {
	return b.shares(func(f *singleFault) string { return b.ifPlace(f, 2) })
}

func (b *Belief) ifPlace(f *singleFault, cylinders int) string {
	s := &b.m.sites[f.site]
	if s.Part != "" || min(len(s.Cylinders), 2) != cylinders {
		return ""
	}
	return s.Name
}

// shares is the probability that at least one fault of each name is there; the
// empty name is left out.
func (b *Belief) shares(nameOf func(*singleFault) string) []Share {
	names := make([]string, len(b.m.faults))
	for i := range b.m.faults {
		names[i] = nameOf(&b.m.faults[i])
	}
	index, ids := numbered(names)
	sums := make([]float64, len(ids))
	b.each(func(faults []int, p float64) {
		for k, i := range faults {
			if n := index[i]; n >= 0 && !seenBefore(index, faults[:k], n) {
				sums[n] += p
			}
		}
	})
	out := make([]Share, len(ids))
	for i, name := range ids {
		out[i] = Share{name, sums[i]}
	}
	slices.SortStableFunc(out, func(x, y Share) int { return cmp.Compare(y.P, x.P) })
	return out
}

func numbered(names []string) (index []int, ids []string) {
	known := map[string]int{"": -1}
	for _, name := range names {
		n, ok := known[name]
		if !ok {
			n = len(ids)
			known[name] = n
			ids = append(ids, name)
		}
		index = append(index, n)
	}
	return index, ids
}

func seenBefore(index []int, faults []int, n int) bool {
	for _, i := range faults {
		if index[i] == n {
			return true
		}
	}
	return false
}

// CylinderState is what is believed of one cylinder in a regime.
type CylinderState struct {
	Cylinder engine.Cylinder `json:"cylinder"`
	Works    float64         `json:"works"`
	Weak     float64         `json:"weak"`
	Dead     float64         `json:"dead"`
	Fault    float64         `json:"fault"` // a fault touches it, shown or not
}

// Cylinders is what is believed of each cylinder while the parts sit so and the
// engine runs so. A nil seating is that on arrival.
func (b *Belief) Cylinders(s fault.Seating, r fault.Regime, mended ...Mend) []CylinderState {
	if s == nil {
		s = b.m.first
	}
	n := b.m.car.Layout.N()
	touched, states := make([]mask, len(b.m.faults)), make([]fault.States, len(b.m.faults))
	for i := range b.m.faults {
		touched[i] = b.m.touches(&b.m.faults[i], s, mended)
		states[i] = b.m.states(&b.m.faults[i], r, touched[i]).States
	}
	out := make([]CylinderState, n)
	b.each(func(faults []int, p float64) {
		var union mask
		for _, i := range faults {
			union |= touched[i]
		}
		for m := union; m != 0; m &= m - 1 {
			c := (m & -m).cylinders()[0]
			addState(&out[c-1], c, p, faults, touched, states)
		}
	})
	for i := range out {
		out[i].Cylinder = engine.Cylinder(i + 1)
		out[i].Works = 1 - out[i].Weak - out[i].Dead
	}
	return out
}

func addState(out *CylinderState, c engine.Cylinder, p float64, faults []int, touched []mask, states []fault.States) {
	works, notDead := 1.0, 1.0
	for _, i := range faults {
		if touched[i].has(c) {
			works *= states[i][fault.Works]
			notDead *= 1 - states[i][fault.Dead]
		}
	}
	out.Fault += p
	out.Dead += p * (1 - notDead)
	out.Weak += p * (notDead - works)
}

// Top lists the k most likely hypotheses; severities are taken together.
func (b *Belief) Top(k int) []Hypothesis {
	sums := map[triple]float64{}
	rep := map[triple][]int{}
	b.each(func(faults []int, p float64) {
		key := b.cover(faults)
		if _, ok := rep[key]; !ok {
			rep[key] = slices.Clone(faults)
		}
		sums[key] += p
	})
	keys := slices.SortedFunc(maps.Keys(sums), func(x, y triple) int {
		if c := cmp.Compare(sums[y], sums[x]); c != 0 {
			return c
		}
		return slices.Compare(x[:], y[:])
	})
	var out []Hypothesis
	for _, key := range keys[:min(k, len(keys))] {
		h := Hypothesis{P: sums[key]}
		for _, i := range rep[key] {
			f := b.faultAt(i)
			f.Severity = ""
			h.Faults = append(h.Faults, f)
		}
		out = append(out, h)
	}
	return out
}

// cover names a set of faults without their severities.
func (b *Belief) cover(faults []int) triple {
	key := triple{-1, -1, -1}
	for k, i := range faults {
		key[k] = int32(b.m.lead[i])
	}
	return key
}
