package belief

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

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
	name    string // of the circumstances
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
	return &Outlook{b, worlds, at, b.m.reach(at.Seating, at.Mended), fmt.Sprint(at)}, nil
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
	have, want := o.b.m.lookedAt(e.Reading), maskOf(q.Cylinders)
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
