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
	floor := b.floor(limit)
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

// floor is a probability that about limit hypotheses exceed, to within a
// sixteenth of an octave: the upper bits of a positive float sort like it.
func (b *Belief) floor(limit int) float64 {
	if len(b.post) <= limit {
		return 0
	}
	const shift = 48
	count := make([]int32, 1<<14)
	for _, p := range b.post {
		count[math.Float64bits(p)>>shift]++
	}
	n := 0
	for k := len(count) - 1; k > 0; k-- {
		above := n
		if n += int(count[k]); n > limit {
			if above < limit/2 { // better some of this bin than too few at all
				k--
			}
			return math.Float64frombits(uint64(k+1) << shift)
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
	return &Outlook{b, worlds, at, b.m.reach(at.Seating, at.Mended)}, nil
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
	c := o.b.m.classes(s)
	var out []Answer
	for i, x := range k.Outcomes {
		s.outcome = i
		out = append(out, Answer{Code: x.Code, Chances: o.chances(s, c)})
	}
	return out, nil
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
	c := o.b.m.classes(s)
	var out []Answer
	for _, x := range FollowValues() {
		e.Swap.Outcome = x
		out = append(out, Answer{Code: string(x), Chances: o.chances(s, c)})
	}
	return out, nil
}

// chances evaluates a sighting in each world, once per set of effects.
func (o *Outlook) chances(s sighting, c *classes) []float64 {
	memo := map[triple]float64{}
	out := make([]float64, len(o.worlds))
	for i, w := range o.worlds {
		key := c.key(w.Faults)
		p, ok := memo[key]
		if !ok {
			p = math.Exp(s.logLik(c.effects(key, s)))
			memo[key] = p
		}
		out[i] = p
	}
	return out
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
	answers := sweepAnswers(s, len(o.worlds))
	c := o.b.m.classes(s)
	memo := map[triple][]float64{}
	for i, w := range o.worlds {
		key := c.key(w.Faults)
		p, ok := memo[key]
		if !ok {
			p = s.sweep(c.effects(key, s))
			memo[key] = p
		}
		for a := range answers {
			answers[a].Chances[i] = p[a]
		}
	}
	return answers
}

func sweepAnswers(s *readingSight, worlds int) []Answer {
	outcomes := s.check.Outcomes
	out := []Answer{{Code: outcomes[0].Code}}
	for _, u := range s.units {
		for _, o := range outcomes[1:] {
			out = append(out, Answer{Code: o.Code, Cylinder: u.cylinders()[0]})
		}
	}
	out = append(out, Answer{Code: "several", Several: true})
	for i := range out {
		out[i].Chances = make([]float64, worlds)
	}
	return out
}

// sweep is the chance of each sweep answer under some effects.
func (s *readingSight) sweep(effects []effect) []float64 {
	n, k := len(s.units), len(s.check.Outcomes)
	out := make([]float64, 2+n*(k-1))
	at := *s
	norm := 0.0
	p := make([]float64, n*k)
	eachDraw(effects, func(d *draws, w float64) {
		w *= s.flags.of(s.miss, anyShows(effects, d))
		norm += w
		normal := 1.0
		for u := range s.units {
			for o := range k {
				at.outcome = o
				p[u*k+o] = at.chance(s.units[u], effects, d)
			}
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
