package job

import (
	"errors"
	"fmt"

	"halforder/engine"
	"halforder/reason/fault"
)

// Numbered says that somebody looked at the engine and found its numbering,
// banks and firing order to be these. Before anything names a cylinder it may
// also correct the engine typed at the opening.
type Numbered struct {
	Engine engine.Layout `json:"engine"`
}

func init() { bodies["numbered"] = func() Body { return new(Numbered) } }

func (*Numbered) kind() string { return "numbered" }

func (b *Numbered) apply(c *Card, _ Event) error {
	switch {
	case !b.Engine.Valid():
		return errors.New("say which engine it has")
	case b.Engine.String() == c.Layout().String():
		return nil
	case b.Engine.N() != c.Layout().N():
		return fmt.Errorf("the card is about %d cylinders, not %d: close it and open a new job", c.Layout().N(), b.Engine.N())
	case len(c.Findings)+len(c.Readings)+len(c.Swaps)+len(c.Repairs)+len(c.Heats) > 0:
		return errors.New("something is measured already in the old numbering: undo it first, then correct the engine")
	}
	c.Opened.Engine = b.Engine
	c.Seating = fault.FirstSeating(b.Engine, c.Opened.Ignition, c.Opened.Injection)
	c.codeRuns.seating = c.Seating
	for i := range c.codeRuns.read { // the car's own numbers, whatever the card's were
		c.codeRuns.read[i].Seating = c.Seating
	}
	return nil
}

// NumberingConfirmed reports whether somebody looked at the engine and found
// the numbering on the card to be right.
func (c *Card) NumberingConfirmed() bool {
	for i := len(c.Timeline) - 1; i >= 0; i-- {
		if n, ok := c.Timeline[i].Body.(*Numbered); ok {
			return n.Engine.String() == c.Layout().String()
		}
	}
	return false
}
