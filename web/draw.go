package web

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/report"
)

// drawing is the engine from above, front to the left, as the pages draw it.
type drawing struct {
	Title string
	Order []engine.Cylinder
	Banks []drawnBank
	Wide  int // cylinders of the longest bank
}

type drawnBank struct {
	Name      string
	Cylinders []drawnCylinder
}

type drawnCylinder struct {
	N        engine.Cylinder
	Position int // in the firing order, from 1
	Parts    []drawnPart
	State    string // sound, doubt, weak, dead; empty: nothing known
	Words    string // the state for a person
	Arc      string // stroke-dasharray of the ring
}

type drawnPart struct {
	Kind  fault.PartKind
	ID    fault.PartID
	Short string // "C"
	Moved bool   // not where it came
	New   bool
}

func draw(l engine.Layout) drawing {
	d := drawing{Title: l.Title(), Order: l.Order()}
	for i, bank := range l.Banks() {
		drawn := drawnBank{}
		if len(l.Banks()) > 1 {
			drawn.Name = fmt.Sprintf("bank %d", i+1)
		}
		for _, c := range bank {
			drawn.Cylinders = append(drawn.Cylinders, drawnCylinder{N: c, Position: l.Position(c) + 1})
		}
		d.Banks = append(d.Banks, drawn)
		d.Wide = max(d.Wide, len(bank))
	}
	return d
}

// each calls change for every cylinder.
func (d drawing) each(change func(*drawnCylinder)) {
	for _, bank := range d.Banks {
		for i := range bank.Cylinders {
			change(&bank.Cylinders[i])
		}
	}
}

// withBelief shows what is believed of each cylinder.
func (d drawing) withBelief(card *job.Card, b *belief.Belief) drawing {
	states := map[engine.Cylinder]belief.CylinderState{}
	for _, s := range b.Cylinders(card.Seating, card.Opened.Regime) {
		states[s.Cylinder] = s
	}
	d.each(func(c *drawnCylinder) { c.show(states[c.N]) })
	return d
}

// ringLength is the circumference of the ring in the page's picture, radius 42.
const ringLength = 2 * math.Pi * 42

func (c *drawnCylinder) show(s belief.CylinderState) {
	bad := s.Weak + s.Dead
	c.Arc = fmt.Sprintf("%.1f %.1f", ringLength*bad, ringLength)
	switch {
	case s.Dead > 0.8:
		c.State, c.Words = "dead", report.Percent(s.Dead)+" dead"
	case bad > 0.8:
		c.State, c.Words = "weak", report.Percent(bad)+" weak"
	case bad < 0.05:
		c.State, c.Words = "sound", "sound"
	default:
		c.State, c.Words = "doubt", report.Percent(bad)+" bad"
	}
}

// withParts shows which part of some kinds sits where.
func (d drawing) withParts(card *job.Card, kinds ...fault.PartKind) drawing {
	first := fault.FirstSeating(card.Layout(), card.Opened.Ignition, card.Opened.Injection)
	d.each(func(c *drawnCylinder) {
		for _, kind := range kinds {
			id := card.Seating.At(kind, c.N)
			if id == "" {
				continue
			}
			_, came := placeOf(first, kind, id)
			c.Parts = append(c.Parts, drawnPart{Kind: kind, ID: id, Short: shortID(kind, id),
				Moved: came && first.At(kind, c.N) != id, New: !came})
		}
	})
	return d
}

func placeOf(s fault.Seating, kind fault.PartKind, id fault.PartID) (engine.Cylinder, bool) {
	if at := s.Where(kind, id); len(at) > 0 {
		return at[0], true
	}
	return 0, false
}

// shortID is the letter on a part's label.
func shortID(kind fault.PartKind, id fault.PartID) string {
	if prefix := string(kind) + " "; len(id) > len(prefix) && string(id[:len(prefix)]) == prefix {
		return string(id[len(prefix):])
	}
	return string(id)
}
