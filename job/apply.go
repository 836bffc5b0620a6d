package job

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func stamp[B any](c *Card, e Event, what *B) Stamped[B] {
	return Stamped[B]{Event: e, What: *what, Seating: c.Seating, Mended: slices.Clip(c.Mended)}
}

// spend books time and money; neither can be negative or no number.
func (c *Card) spend(minutes float64, cash Cents) error {
	if !(minutes >= 0) || math.IsInf(minutes, 0) || cash < 0 {
		return fmt.Errorf("%g minutes and %.2f money: give numbers from 0 up", minutes, float64(cash)/100)
	}
	c.Minutes += minutes
	c.Cash += cash
	return nil
}

func (b *Opened) apply(c *Card, e Event) error {
	switch {
	case b.Car == "":
		return errors.New("say which car it is")
	case !b.Engine.Valid():
		return errors.New("say which engine it has")
	case !(b.EveryS >= 0) || math.IsInf(b.EveryS, 0):
		return fmt.Errorf("a miss every %g seconds: give 0 for steady, or the mean time between misses", b.EveryS)
	}
	if err := checkCylinders(b.Engine, b.Hard); err != nil {
		return err
	}
	c.Opened, c.At = *b, e
	c.Seating = fault.FirstSeating(b.Engine, b.Ignition, b.Injection)
	c.codeRuns.seating = c.Seating
	return nil
}

func (b *Recorded) apply(c *Card, e Event) error {
	if len(b.SHA256) != 64 {
		return fmt.Errorf("recording %q has no SHA-256", b.Name)
	}
	c.Recordings = append(c.Recordings, stamp(c, e, b))
	return nil
}

func (b *Found) apply(c *Card, e Event) error {
	if _, ok := c.Recording(b.SHA256); !ok {
		return errors.New("its recording is not on the card")
	}
	if l := b.Finding.Likelihood; l != nil {
		if err := l.Check(c.Layout().N()); err != nil {
			return err
		}
	}
	c.Findings = append(c.Findings, stamp(c, e, b))
	return nil
}

func (b *Entered) apply(c *Card, e Event) error {
	if len(b.Results) == 0 {
		return fmt.Errorf("%s: no result given", b.Check)
	}
	for _, r := range b.Results {
		if err := r.check(c.Layout()); err != nil {
			return fmt.Errorf("%s: %w", b.Check, err)
		}
	}
	c.Readings = append(c.Readings, stamp(c, e, b))
	return c.spend(b.Minutes, b.Cash)
}

func (r Result) check(l engine.Layout) error {
	for _, v := range r.Values {
		if math.IsNaN(v.Number) || math.IsInf(v.Number, 0) {
			return errors.New("the reading is not a number")
		}
	}
	if r.Cylinder == 0 {
		return nil
	}
	return l.Check(r.Cylinder)
}

func (b *Swapped) apply(c *Card, e Event) error {
	if err := checkCylinders(c.Layout(), []engine.Cylinder{b.A, b.B}); err != nil {
		return err
	}
	before := stamp(c, e, b)
	for _, kind := range append([]fault.PartKind{b.Part}, b.Along...) {
		after, err := c.Seating.Swapped(kind, b.A, b.B)
		if err != nil {
			return err
		}
		c.Seating = after
	}
	c.Swaps = append(c.Swaps, Swap{Stamped: before})
	c.reopenProof()
	return c.spend(b.Minutes, 0)
}

func (b *SwapWatched) apply(c *Card, e Event) error {
	if !(b.BeforeS >= 0) || !(b.AfterS >= 0) {
		return errors.New("watched time: give seconds from 0 up")
	}
	for i := range c.Swaps {
		s := &c.Swaps[i]
		if s.Seq != b.Swap {
			continue
		}
		if s.Watched != nil {
			return fmt.Errorf("the outcome of swap %d is entered already: undo event %d to change it", b.Swap, s.Watched.Seq)
		}
		watched := stamp(c, e, b)
		s.Watched = &watched
		return c.spend(b.Minutes, 0)
	}
	return fmt.Errorf("there is no swap %d", b.Swap)
}

func (b *Repaired) apply(c *Card, e Event) error {
	before := stamp(c, e, b)
	if b.Part == "" && b.Repair == "" && b.Words == "" {
		return errors.New("say what was renewed, or what else was done")
	}
	if err := checkCylinders(c.Layout(), b.Cylinders); err != nil {
		return err
	}
	if b.Repair != "" {
		c.Mended = append(c.Mended, belief.Mend{Repair: b.Repair, Cylinders: b.Cylinders})
	}
	if b.Part != "" {
		if err := c.Layout().Check(b.Cylinder); err != nil {
			return err
		}
		after, err := c.Seating.Renewed(b.Part, b.Cylinder, b.NewPart)
		if err != nil {
			return err
		}
		c.Seating = after
	}
	c.Repairs = append(c.Repairs, before)
	c.Status = StatusRepaired
	return c.spend(b.Minutes, b.Cash)
}

func (b *Proved) apply(c *Card, e Event) error {
	if len(c.Repairs) == 0 {
		return errors.New("nothing has been repaired yet: record the repair first")
	}
	if !(b.WatchedS >= 0) || !(b.Confidence >= 0 && b.Confidence <= 1) {
		return errors.New("watched time and confidence: give seconds from 0 up and a share from 0 to 1")
	}
	if b.Stretches < 0 || b.Misses < 0 || b.Stretches > 0 && b.Misses > b.Stretches {
		return fmt.Errorf("%d misses in %d stretches: give counts from 0 up, no more misses than stretches", b.Misses, b.Stretches)
	}
	c.Proofs = append(c.Proofs, stamp(c, e, b))
	c.Status = StatusRepaired
	if b.Proven {
		c.Status = StatusProven
	}
	return nil
}

// reopenProof drops a proof that a later change of the car made void.
func (c *Card) reopenProof() {
	if c.Status == StatusProven {
		c.Status = StatusRepaired
	}
}

func (b *Agreed) apply(c *Card, e Event) error {
	if b.Who == "" || b.Limit < 0 {
		return errors.New("say who agreed, and to what sum")
	}
	c.Agreements = append(c.Agreements, stamp(c, e, b))
	return nil
}

func (b *Noted) apply(c *Card, e Event) error {
	if b.Text == "" {
		return errors.New("the note is empty")
	}
	c.Notes = append(c.Notes, stamp(c, e, b))
	return nil
}

// apply is not reached: active takes the undoing events out.
func (b *Undone) apply(*Card, Event) error { return nil }

func (b *Closed) apply(c *Card, e Event) error {
	closing := stamp(c, e, b)
	c.Closing = &closing
	c.Status = StatusClosed
	return nil
}

func checkCylinders(l engine.Layout, cylinders []engine.Cylinder) error {
	for _, c := range cylinders {
		if err := l.Check(c); err != nil {
			return err
		}
	}
	return nil
}
