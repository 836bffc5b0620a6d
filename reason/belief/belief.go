package belief

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

// Belief is the exact posterior over all hypotheses for one car. It is
// immutable and safe for concurrent use.
type Belief struct {
	m        *model
	evidence []Evidence
	columns  []*column // nil for a renewal
	powers   []float64 // of the evidence, below 1 for repeats
	h        *hypotheses
	post     []float64 // probabilities, by hypothesis
}

// New is the posterior given all the evidence, in any order. The error names
// what cannot be used, or which pieces contradict each other.
func New(cat *fault.Catalogue, car Car, evidence []Evidence) (*Belief, error) {
	m, err := newModel(cat, car, evidence)
	if err != nil {
		return nil, err
	}
	b := &Belief{m: m, h: m.enumerate(), evidence: slices.Clone(evidence)}
	b.powers = m.powers(evidence)
	for i := range evidence {
		col, err := m.column(&evidence[i], b.powers[i])
		if err != nil {
			return nil, named(&evidence[i], err)
		}
		b.columns = append(b.columns, col)
	}
	return b, b.finish()
}

func named(e *Evidence, err error) error {
	if e.ID == "" {
		return err
	}
	return fmt.Errorf("%s: %w", e.ID, err)
}

// With is the belief after one more piece of evidence, faster than New.
func (b *Belief) With(e Evidence) (*Belief, error) {
	all := append(slices.Clone(b.evidence), e)
	if e.Renewed != nil {
		return New(b.m.cat, b.m.car, all)
	}
	next := &Belief{m: b.m, h: b.h, evidence: all, columns: slices.Clone(b.columns), powers: b.m.powers(all)}
	col, err := b.m.column(&e, next.powers[len(b.columns)])
	if err != nil {
		return nil, named(&e, err)
	}
	next.post = col.weigh(b.h, next.reweigh(b))
	if next.columns = append(next.columns, col); next.post == nil {
		return next, next.finish()
	}
	return next, nil
}

// reweigh is the posterior before with what now counts less or more, since it
// has been repeated, counting so; nil where that is not safe.
func (b *Belief) reweigh(before *Belief) []float64 {
	post := before.post
	for i, old := range before.columns {
		if by := b.powers[i] / before.powers[i]; old != nil && by != 1 && post != nil {
			b.columns[i] = old.scaled(by)
			post = old.scaled(by-1).weigh(b.h, post)
		}
	}
	return post
}

func (b *Belief) finish() error {
	logW := slices.Clone(b.h.logW)
	for _, col := range b.columns {
		if col != nil {
			col.add(b.h, logW)
		}
	}
	if b.post = normalise(logW); b.post == nil {
		return b.contradiction()
	}
	return nil
}

// normalise turns log weights into probabilities in place, nil when nothing is
// possible.
func normalise(logW []float64) []float64 {
	top := slices.Max(logW)
	if math.IsInf(top, -1) || math.IsNaN(top) {
		return nil
	}
	sum := 0.0
	for i, v := range logW {
		p := math.Exp(v - top)
		logW[i] = p
		sum += p
	}
	for i := range logW {
		logW[i] /= sum
	}
	return logW
}

// column makes a piece of evidence ready; a renewal has none.
func (m *model) column(e *Evidence, power float64) (*column, error) {
	s, err := m.sight(e, power)
	if err != nil || s == nil {
		return nil, err
	}
	return newColumn(m, s, m.car.MaxFaults), nil
}

func (m *model) sight(e *Evidence, power float64) (sighting, error) {
	if err := m.checkEvidence(e); err != nil {
		return nil, err
	}
	switch {
	case e.Reading != nil:
		return asSighting(newReadingSight(m, e, m.reachOf(e), power))
	case e.Swap != nil:
		return asSighting(newSwapSight(m, e, m.reachOf(e)))
	case e.Finding != nil:
		return asSighting(newFindingSight(m, e))
	case e.Watched != nil:
		return asSighting(newWatchSight(m, e, m.reachOf(e)))
	}
	return nil, nil
}

func asSighting[S sighting](s S, err error) (sighting, error) {
	if err != nil {
		return nil, err
	}
	return s, nil
}

func (m *model) checkEvidence(e *Evidence) error {
	given := 0
	for _, there := range []bool{e.Reading != nil, e.Swap != nil, e.Finding != nil, e.Watched != nil, e.Renewed != nil} {
		if there {
			given++
		}
	}
	if given != 1 {
		return fmt.Errorf("evidence must be exactly one of reading, swap, finding, watch and renewal, got %d of them", given)
	}
	if _, err := fault.ParseRegime(string(e.Regime)); err != nil {
		return err
	}
	if e.Miss != Unknown && e.Miss != Present && e.Miss != Absent {
		return fmt.Errorf("unknown presence of the miss %q: use present, absent or nothing", e.Miss)
	}
	if e.Swap != nil && !slices.Contains(FollowValues(), e.Swap.Outcome) {
		return fmt.Errorf("a swap has no outcome %q: use one of follows, stays, vanishes, both", e.Swap.Outcome)
	}
	return m.checkCircumstances(e.Seating, e.Mended)
}

func (m *model) checkCircumstances(s fault.Seating, mended []Mend) error {
	for _, x := range mended {
		if _, err := m.cat.Repair(x.Repair); err != nil {
			return err
		}
		for _, c := range x.Cylinders {
			if err := m.car.Layout.Check(c); err != nil {
				return fmt.Errorf("repair %q: %w", x.Repair, err)
			}
		}
	}
	return m.checkSeating(s)
}

// checkSeating refuses parts that nobody brought.
func (m *model) checkSeating(s fault.Seating) error {
	if err := s.Check(m.car.Layout.N()); err != nil {
		return err
	}
	for kind, ids := range s {
		if m.first[kind] == nil {
			return fmt.Errorf("seating: this car has no %s", kind)
		}
		for _, id := range ids {
			if !slices.Contains(m.first[kind], id) && !slices.Contains(m.fresh[kind], id) {
				return fmt.Errorf("seating: %q came neither with the car nor as a renewal", id)
			}
		}
	}
	return nil
}

func (m *model) seatingOf(e *Evidence) fault.Seating {
	if len(e.Seating) == 0 {
		return m.first
	}
	return e.Seating
}

func (e *Evidence) regime() fault.Regime {
	if e.Regime == "" {
		return fault.Any
	}
	return e.Regime
}

func (m *model) flags() flags {
	return flags{m.cat.Setting("flag-hit"), m.cat.Setting("flag-false")}
}

// partsAt lists the parts at some cylinders, at all where none is named, however
// they are arranged among them.
func (m *model) partsAt(cylinders []engine.Cylinder, s fault.Seating) []fault.PartID {
	if len(cylinders) == 0 {
		cylinders = m.car.Layout.Cylinders()
	}
	var out []fault.PartID
	for _, kind := range fault.PartKinds() {
		for _, c := range cylinders {
			if id := s.At(kind, c); id != "" {
				out = append(out, id)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// contradiction says which pieces of evidence cannot all be true: one alone, or
// a pair, or all together.
func (b *Belief) contradiction() error {
	try := func(cols ...*column) bool {
		logW := slices.Clone(b.h.logW)
		for _, c := range cols {
			c.add(b.h, logW)
		}
		return normalise(logW) != nil
	}
	for i, c := range b.columns {
		if c != nil && !try(c) {
			return fmt.Errorf("%s cannot be: no cause in the catalogue allows it. Look at it again or take it back", b.nameOf(i))
		}
	}
	for i, c := range b.columns {
		for j := range i {
			if c != nil && b.columns[j] != nil && !try(c, b.columns[j]) {
				return fmt.Errorf("%s and %s contradict each other: nothing in the catalogue allows both. Repeat one and take back the wrong one", b.nameOf(j), b.nameOf(i))
			}
		}
	}
	return errors.New("the evidence contradicts itself: nothing in the catalogue allows all of it. Take back the piece you trust least")
}

func (b *Belief) nameOf(i int) string {
	if id := b.evidence[i].ID; id != "" {
		return id
	}
	return fmt.Sprintf("evidence %d", i+1)
}
