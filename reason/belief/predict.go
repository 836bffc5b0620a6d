package belief

import (
	"cmp"
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

// floor is the probability that at most limit hypotheses exceed, give or take
// ties.
func (b *Belief) floor(limit int) float64 {
	if len(b.post) <= limit {
		return 0
	}
	low, high := 0.0, 1.0
	for range 40 {
		mid := math.Sqrt(max(low, 1e-18) * high)
		n := 0
		for _, p := range b.post {
			if p >= mid {
				n++
			}
		}
		if n > limit {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// FaultAt describes a fault by the index a World uses.
func (b *Belief) FaultAt(i int) Fault { return b.faultAt(i) }

// Touched lists the cylinders a fault touches while the parts sit so; a nil
// seating is that on arrival.
func (b *Belief) Touched(i int, s fault.Seating) []engine.Cylinder {
	if s == nil {
		s = b.m.first
	}
	return b.m.touches(&b.m.faults[i], s).cylinders()
}

// Question is a check that might be done now.
type Question struct {
	Check     string
	Cylinders []engine.Cylinder // of a swap: the two; of a sweep: all looked at
	Sweep     bool              // each of the cylinders in turn, or in one go
	Along     []fault.PartKind  // of a swap
	Seconds   float64           // of a swap: how long the miss will be watched
	Seating   fault.Seating
	Regime    fault.Regime
	Miss      Presence
}

// Answer is one outcome of a question.
type Answer struct {
	Code     string          // outcome of the check, or of the swap
	Cylinder engine.Cylinder // of a sweep: where it was seen; 0 when all are normal, or several differ
	Several  bool            // of a sweep: more than one cylinder differs
	Chances  []float64       // by world
}

// Predict gives for each answer its chance in each world.
func (b *Belief) Predict(worlds []World, q Question) ([]Answer, error) {
	e := Evidence{Seating: q.Seating, Regime: q.Regime, Miss: q.Miss}
	k, err := b.m.cat.Check(q.Check)
	if err != nil {
		return nil, err
	}
	if err := b.m.checkSeating(q.Seating); err != nil {
		return nil, err
	}
	switch {
	case k.Swaps != "":
		return b.predictSwap(worlds, &q, k, e)
	case q.Sweep:
		return b.predictSweep(worlds, &q, k, e)
	}
	var out []Answer
	for _, o := range k.Outcomes {
		e.Reading = &Reading{q.Check, q.Cylinders, o.Code}
		s, err := newReadingSight(b.m, &e, 1)
		if err != nil {
			return nil, err
		}
		out = append(out, Answer{Code: o.Code, Chances: b.chances(worlds, s)})
	}
	return out, nil
}

func (b *Belief) predictSwap(worlds []World, q *Question, k *fault.Check, e Evidence) ([]Answer, error) {
	if len(q.Cylinders) != 2 {
		return nil, fmt.Errorf("check %q: a swap needs two cylinders, got %d", k.Code, len(q.Cylinders))
	}
	var out []Answer
	for _, o := range FollowValues() {
		e.Swap = &Swap{Kind: k.Swaps, Along: q.Along, A: q.Cylinders[0], B: q.Cylinders[1], Outcome: o, Before: q.Seconds, After: q.Seconds}
		s, err := newSwapSight(b.m, &e)
		if err != nil {
			return nil, err
		}
		out = append(out, Answer{Code: string(o), Chances: b.chances(worlds, s)})
	}
	return out, nil
}

// chances evaluates a sighting in each world, once per set of effects.
func (b *Belief) chances(worlds []World, s sighting) []float64 {
	c := b.classes(s)
	memo := map[triple]float64{}
	out := make([]float64, len(worlds))
	for i, w := range worlds {
		key := c.key(w.Faults)
		p, ok := memo[key]
		if !ok {
			p = math.Exp(s.logLik(c.effects(key)))
			memo[key] = p
		}
		out[i] = p
	}
	return out
}

// classes numbers the different effects; 0 is "not a misfire".
type classes struct {
	of   []int32 // by fault
	list []effect
}

func (b *Belief) classes(s sighting) *classes {
	c := &classes{of: make([]int32, len(b.m.faults)), list: []effect{s.effectOf(&b.m.none)}}
	index := map[effect]int32{}
	for i := range b.m.faults {
		e := s.effectOf(&b.m.faults[i])
		k, ok := index[e]
		if !ok {
			k = int32(len(c.list))
			index[e] = k
			c.list = append(c.list, e)
		}
		c.of[i] = k
	}
	return c
}

func (c *classes) key(faults []int) triple {
	switch len(faults) {
	case 0:
		return triple{-1, -1, 0}
	case 1:
		return triple{-1, -1, c.of[faults[0]]}
	case 2:
		return sorted3(-1, c.of[faults[0]], c.of[faults[1]])
	}
	return sorted3(c.of[faults[0]], c.of[faults[1]], c.of[faults[2]])
}

func (c *classes) effects(key triple) []effect {
	var out []effect
	for _, k := range key {
		if k >= 0 {
			out = append(out, c.list[k])
		}
	}
	return out
}

// predictSweep looks at several cylinders: all normal, one that differs (which
// and how), or several that differ.
func (b *Belief) predictSweep(worlds []World, q *Question, k *fault.Check, e Evidence) ([]Answer, error) {
	e.Reading = &Reading{q.Check, q.Cylinders, k.Outcomes[0].Code}
	s, err := newReadingSight(b.m, &e, 1)
	if err != nil {
		return nil, err
	}
	answers := sweepAnswers(s, k, len(worlds))
	c := b.classes(s)
	memo := map[triple][]float64{}
	for i, w := range worlds {
		key := c.key(w.Faults)
		p, ok := memo[key]
		if !ok {
			p = s.sweep(c.effects(key))
			memo[key] = p
		}
		for a := range answers {
			answers[a].Chances[i] = p[a]
		}
	}
	return answers, nil
}

func sweepAnswers(s *readingSight, k *fault.Check, worlds int) []Answer {
	out := []Answer{{Code: k.Outcomes[0].Code}}
	for _, u := range s.units {
		for _, o := range k.Outcomes[1:] {
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
	eachDraw(effects, func(d draws, w float64) {
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

// sortWorlds puts the likeliest first.
func sortWorlds(w []World) {
	slices.SortStableFunc(w, func(a, b World) int { return cmp.Compare(b.P, a.P) })
}
