package catalyst

import (
	"fmt"
	"time"
)

// Step says how the engine ran from a moment on: a line of the books, to be
// stored.
type Step struct {
	At        time.Time `json:"at"`
	Condition Condition `json:"condition"`
}

// NewVisitAfter is the pause after which a visit's totals begin anew
// (judgement: a night).
const NewVisitAfter = 8 * time.Hour

// Follow books steps in order, after Resume at the first of them. A step before
// the one ahead of it, or one the engine cannot do, is refused and nothing is
// booked.
func (b *Ledger) Follow(steps []Step) error {
	for i, s := range steps {
		if i > 0 && s.At.Before(steps[i-1].At) {
			return fmt.Errorf("catalyst books: step %d is at %s, before the one ahead of it: give them in order", i+1, s.At.Format(time.RFC3339))
		}
		if err := s.Condition.check(b.Layout); err != nil {
			return err
		}
	}
	if len(steps) == 0 {
		return nil
	}
	b.Resume(steps[0].At)
	for _, s := range steps {
		if err := b.Set(s.At, s.Condition); err != nil {
			return err
		}
	}
	return nil
}

// Resume goes on with the books of an earlier session: after a long pause a new
// visit begins. Books whose clock is ahead, as when it was set back meanwhile,
// are carried back without cooling: else nothing would count until it has caught
// up.
func (b *Ledger) Resume(at time.Time) {
	if b.At.IsZero() {
		return
	}
	if ahead := b.At.Sub(at); ahead > 0 {
		b.At = at
		for _, t := range []*time.Time{&b.CutBegan, &b.CutEnded} {
			if !t.IsZero() {
				*t = t.Add(-ahead)
			}
		}
		return
	}
	if at.Sub(b.At) >= NewVisitAfter {
		b.NewVisit(at)
	}
}

// Copy is the same books, to go on with apart from these.
func (b *Ledger) Copy() *Ledger {
	c := *b
	c.Banks = append([]Bank(nil), b.Banks...)
	return &c
}
