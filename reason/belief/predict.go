package belief

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

// World is one hypothesis as planning needs it: which faults are there, as
// indices for FaultAt. No faults means "not a misfire".
type World struct {
	Faults []int
	P      float64
}

// Worlds lists the most likely hypotheses, at most limit, with probabilities
// scaled to sum to 1. The second value is the mass they had.
func (b *Belief) Worlds(limit int) ([]World, float64) {
	return b.above(b.floor(limit), limit)
}

func (b *Belief) above(floor float64, limit int) ([]World, float64) {
	var out []World
	kept := 0.0
	b.each(func(faults []int, p float64) {
		if p > 0 && p >= floor && len(out) < limit {
			out = append(out, World{slices.Clone(faults), p})
			kept += p
		}
	})
	for i := range out {
		out[i].P /= kept
	}
	return out, kept
}

// Likeliest is Worlds with no more of them than hold a mass, to within the width
// of the bins of floor.
func (b *Belief) Likeliest(limit int, mass float64) ([]World, float64) {
	return b.above(max(b.floor(limit), b.massFloor(mass)), limit)
}

// floor is a probability that about limit hypotheses exceed, to within a
// sixteenth of an octave: the upper bits of a positive float sort like it.
func (b *Belief) floor(limit int) float64 {
	if len(b.post) <= limit {
		return 0
	}
	count := make([]int32, bins)
	for _, p := range b.post {
		count[binOf(p)]++
	}
	n := 0
	for k := len(count) - 1; k > 0; k-- {
		above := n
		if n += int(count[k]); n > limit {
			if above < limit/2 { // better some of this bin than too few at all
				k--
			}
			return binStart(k + 1)
		}
	}
	return 0
}

// bins sort probabilities by the upper bits of the float.
const (
	binShift = 48
	bins     = 1 << 14
)

func binOf(p float64) int { return int(math.Float64bits(p) >> binShift) }

func binStart(k int) float64 { return math.Float64frombits(uint64(k) << binShift) }

// massFloor is a probability such that the hypotheses above it hold at least a
// mass.
func (b *Belief) massFloor(mass float64) float64 {
	held := make([]float64, bins)
	for _, p := range b.post {
		held[binOf(p)] += p
	}
	sum := 0.0
	for k := len(held) - 1; k > 0; k-- {
		if sum += held[k]; sum >= mass {
			return binStart(k)
		}
	}
	return 0
}

// FaultAt describes a fault by the index a World uses.
func (b *Belief) FaultAt(i int) Fault { return b.faultAt(i) }

// Find is the index of a fault, as FaultAt describes it. An empty severity finds
// the first one of that cause and site.
func (b *Belief) Find(f Fault) (int, bool) {
	for i := range b.m.faults {
		x := b.faultAt(i)
		if x.Cause == f.Cause && x.Site.Name == f.Site.Name && x.Site.Kind == f.Site.Kind && (f.Severity == "" || f.Severity == x.Severity) {
			return i, true
		}
	}
	return 0, false
}

// Circumstances are those of the next step.
type Circumstances struct {
	Seating fault.Seating // nil: as on arrival
	Mended  []Mend
	Regime  fault.Regime
	Miss    Presence
}

// Outlook predicts answers in some worlds as the car now stands.
type Outlook struct {
	b       *Belief
	worlds  []World
	at      Circumstances
	touched []mask
	used    []int // faults in the worlds
}

// Outlook makes the worlds ready for questions. The circumstances hold for all
// of them, except where a question names a regime of its own.
func (b *Belief) Outlook(worlds []World, at Circumstances) (*Outlook, error) {
	if err := b.m.checkCircumstances(at.Seating, at.Mended); err != nil {
		return nil, err
	}
	if at.Seating == nil {
		at.Seating = b.m.first
	}
	return &Outlook{b, worlds, at, b.m.reach(at.Seating, at.Mended), usedIn(worlds)}, nil
}

func usedIn(worlds []World) []int {
	var out []int
	for _, w := range worlds {
		out = append(out, w.Faults...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Touched lists the cylinders a fault touches now.
func (o *Outlook) Touched(i int) []engine.Cylinder { return o.touched[i].cylinders() }

// Question is a check that might be done now.
type Question struct {
	Check     string
	Cylinders []engine.Cylinder // of a swap: the two; of a sweep: all looked at
	Sweep     bool              // each of the cylinders in turn, or in one go
	Along     []fault.PartKind  // of a swap
	Seconds   float64           // of a swap: how long the miss will be watched
	Regime    fault.Regime      // empty: as it is now; else the presence of the miss is unknown
}

// Repeats reports whether a question has been answered already with the same
// parts in place: a reading of the same check in the same regime, or a swap of
// the same kind of part away from the same cylinder. Of a sweep, one cylinder is
// enough.
func (o *Outlook) Repeats(q Question) bool {
	regime := q.Regime
	if regime == "" {
		regime = o.at.Regime
	}
	for i := range o.b.evidence {
		e := &o.b.evidence[i]
		switch {
		case e.regime() != regime && e.regime() != fault.Any:
		case e.Reading != nil && e.Reading.Check == q.Check && o.sameReading(e, &q):
			return true
		case e.Swap != nil && len(q.Cylinders) == 2 && o.sameSwap(e, &q):
			return true
		}
	}
	return false
}

func (o *Outlook) sameReading(e *Evidence, q *Question) bool {
	if len(e.Mended) != len(o.at.Mended) {
		return false
	}
	have, want := maskOf(e.Reading.Cylinders), maskOf(q.Cylinders)
	common := (have & want).cylinders()
	if want != 0 && (len(common) == 0 || !q.Sweep && have&want != want) {
		return false
	}
	return slices.Equal(o.b.m.partsAt(common, o.b.m.seatingOf(e)), o.b.m.partsAt(common, o.at.Seating))
}

func (o *Outlook) sameSwap(e *Evidence, q *Question) bool {
	k, err := o.b.m.cat.Check(q.Check)
	a := q.Cylinders[0]
	return err == nil && k.Swaps == e.Swap.Kind && (e.Swap.A == a || e.Swap.B == a)
}

// Answer is one outcome of a question.
type Answer struct {
	Code     string          // outcome of the check, or of the swap
	Cylinder engine.Cylinder // of a sweep: where it was seen; 0 when all are normal, or several differ
	Several  bool            // of a sweep: more than one cylinder differs
	Chances  []float64       // by world
}

// Predict gives for each answer its chance in each world.
func (o *Outlook) Predict(q Question) ([]Answer, error) {
	e := Evidence{Seating: o.at.Seating, Mended: o.at.Mended, Regime: o.at.Regime, Miss: o.at.Miss}
	if q.Regime != "" && q.Regime != o.at.Regime {
		e.Regime, e.Miss = q.Regime, Unknown
	}
	k, err := o.b.m.cat.Check(q.Check)
	if err != nil {
		return nil, err
	}
	if k.Swaps != "" {
		return o.predictSwap(&q, k, e)
	}
	e.Reading = &Reading{q.Check, q.Cylinders, k.Outcomes[0].Code}
	s, err := newReadingSight(o.b.m, &e, o.touched, 1)
	if err != nil {
		return nil, err
	}
	if q.Sweep {
		return o.predictSweep(s), nil
	}
	answers := make([]Answer, len(k.Outcomes))
	for i, x := range k.Outcomes {
		answers[i].Code = x.Code
	}
	return o.fill(answers, s, s.distribution), nil
}

func (o *Outlook) predictSwap(q *Question, k *fault.Check, e Evidence) ([]Answer, error) {
	if len(q.Cylinders) != 2 {
		return nil, fmt.Errorf("check %q: a swap needs two cylinders, got %d", k.Code, len(q.Cylinders))
	}
	e.Swap = &Swap{Kind: k.Swaps, Along: q.Along, A: q.Cylinders[0], B: q.Cylinders[1], Before: q.Seconds, After: q.Seconds}
	s, err := newSwapSight(o.b.m, &e, o.touched)
	if err != nil {
		return nil, err
	}
	var answers []Answer
	for _, x := range FollowValues() {
		answers = append(answers, Answer{Code: string(x)})
	}
	return o.fill(answers, s, func(effects []effect) []float64 {
		out := make([]float64, len(answers))
		for i, x := range FollowValues() {
			e.Swap.Outcome = x
			out[i] = math.Exp(s.logLik(effects))
		}
		return out
	}), nil
}

// fill evaluates a sighting in each world, once per set of effects.
func (o *Outlook) fill(answers []Answer, s sighting, chances func([]effect) []float64) []Answer {
	c := o.b.m.classes(s, o.used)
	for a := range answers {
		answers[a].Chances = make([]float64, len(o.worlds))
	}
	memo := c.memo()
	for i, w := range o.worlds {
		p := memo.at(c.key(w.Faults), func(key triple) []float64 { return chances(c.effects(key, s)) })
		for a := range answers {
			answers[a].Chances[i] = p[a]
		}
	}
	return answers
}

// memo remembers a result for each set of classes: in a table where there are
// few, else in a map.
type memo struct {
	n     int
	table [][]float64
	more  map[triple][]float64
}

// tableClasses is how many classes a table is made for.
const tableClasses = 48

func (c *classes) memo() *memo {
	m := &memo{n: len(c.list) + 1, more: map[triple][]float64{}}
	if m.n <= tableClasses {
		m.table = make([][]float64, m.n*m.n)
	}
	return m
}

func (m *memo) at(key triple, find func(triple) []float64) []float64 {
	if key[0] == noFault && m.table != nil { // sorted: at most two classes
		p := &m.table[int(key[1]+1)*m.n+int(key[2]+1)]
		if *p == nil {
			*p = find(key)
		}
		return *p
	}
	p, ok := m.more[key]
	if !ok {
		p = find(key)
		m.more[key] = p
	}
	return p
}

// key names the classes of a set of faults; of none, all are noFault.
func (c *classes) key(faults []int) triple {
	key := triple{noFault, noFault, noFault}
	for k, i := range faults {
		key[k] = c.of[i]
	}
	return sorted3(key[0], key[1], key[2])
}

func (c *classes) effects(key triple, s sighting) []effect {
	var out []effect
	for _, k := range key {
		if k >= 0 {
			out = append(out, c.list[k])
		}
	}
	if out == nil {
		out = append(out, s.effectOf(noFault))
	}
	return out
}

// predictSweep looks at several cylinders: all normal, one that differs (which
// and how), or several that differ.
func (o *Outlook) predictSweep(s *readingSight) []Answer {
	outcomes := s.check.Outcomes
	answers := []Answer{{Code: outcomes[0].Code}}
	for _, u := range s.units {
		for _, o := range outcomes[1:] {
			answers = append(answers, Answer{Code: o.Code, Cylinder: u.cylinders()[0]})
		}
	}
	return o.fill(append(answers, Answer{Code: "several", Several: true}), s, s.sweep)
}

// distribution is the chance of each outcome, at every unit alike, under some
// effects.
func (s *readingSight) distribution(effects []effect) []float64 {
	k := len(s.check.Outcomes)
	out, one, all := make([]float64, k), make([]float64, k), make([]float64, k)
	norm := 0.0
	eachDraw(effects, func(d *draws, w float64) {
		w *= s.flags.of(s.miss, anyShows(effects, d))
		norm += w
		for i, u := range s.units {
			s.spread(one, u, effects, d)
			for o := range k {
				if i == 0 {
					all[o] = 1
				}
				all[o] *= one[o]
			}
		}
		for o := range k {
			out[o] += w * all[o]
		}
	})
	for o := range out {
		out[o] /= norm
	}
	return out
}

// sweep is the chance of each sweep answer under some effects.
func (s *readingSight) sweep(effects []effect) []float64 {
	n, k := len(s.units), len(s.check.Outcomes)
	out := make([]float64, 2+n*(k-1))
	norm := 0.0
	p := make([]float64, n*k)
	eachDraw(effects, func(d *draws, w float64) {
		w *= s.flags.of(s.miss, anyShows(effects, d))
		norm += w
		normal := 1.0
		for u := range s.units {
			s.spread(p[u*k:][:k], s.units[u], effects, d)
			normal *= p[u*k]
		}
		addSweep(out, p, n, k, w, normal)
	})
	for i := range out {
		out[i] /= norm
	}
	return out
}

func addSweep(out, p []float64, n, k int, w, normal float64) {
	rest := 1 - normal
	out[0] += w * normal
	for u := range n {
		if p[u*k] == 0 {
			continue
		}
		for o := 1; o < k; o++ {
			v := normal / p[u*k] * p[u*k+o]
			out[1+u*(k-1)+o-1] += w * v
			rest -= v
		}
	}
	out[len(out)-1] += w * max(rest, 0)
}
