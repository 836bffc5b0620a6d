package job

import (
	"context"
	"time"

	"halforder/reason/belief"
	"halforder/reason/fault"
)

// learnedFrom is the belief from which a proven repair teaches its cause to later
// jobs. Judgement: one that is less sure would teach the priors back to
// themselves.
const learnedFrom = 0.9

// Close ends the job. cause is what it was, in words or as a code of the
// catalogue. Where the repair is proven the code is kept for later jobs to learn
// from: the one named, else that of the one cause all but sure. b may be nil.
func (c *Card) Close(cat *fault.Catalogue, b *belief.Belief, cause, words string) *Closed {
	out := &Closed{Cause: cause, Words: words}
	named, err := cat.Cause(cause)
	if err == nil {
		out.Cause = named.Title
	}
	_, proven := c.Proven()
	switch {
	case !proven:
	case err == nil:
		out.Code = named.Code
	case b != nil:
		out.Code = c.endedCause(b)
	}
	return out
}

// endedCause is the cause that was all but surely there and is out of the car,
// empty when there is none.
func (c *Card) endedCause(b *belief.Belief) string {
	for _, s := range b.Suspects() {
		cause, err := b.Catalogue().Cause(s.Cause)
		if s.P < learnedFrom || err != nil {
			break
		}
		if !cause.Unlisted() && !c.inCar(b.Catalogue(), s.Fault) {
			return s.Cause
		}
	}
	return ""
}

// Experience counts the proven causes of the jobs closed before a moment.
func (b Book) Experience(ctx context.Context, before time.Time) (fault.Tally, error) {
	out := fault.Tally{}
	err := b.closedBefore(ctx, before, func(c *Card) {
		out.Add(c.Opened.Complaint, c.Closing.What.Code)
	})
	return out, err
}

// closedBefore visits the jobs closed before a moment with a proven cause.
func (b Book) closedBefore(ctx context.Context, before time.Time, visit func(*Card)) error {
	ids, err := b.Store.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, id := range ids {
		card, err := b.Card(ctx, id)
		if err != nil {
			return err
		}
		if card.Closing != nil && card.Closing.What.Code != "" && card.Closing.At.Before(before) {
			visit(card)
		}
	}
	return nil
}

// Catalogue is what to judge a card by: the one given, its priors moved by the
// jobs of the same complaint that were closed before this one was opened, and how
// many those are. Later jobs do not count, so that a card keeps saying what it
// said.
func (b Book) Catalogue(ctx context.Context, base *fault.Catalogue, c *Card) (*fault.Catalogue, int, error) {
	tally, err := b.Experience(ctx, c.At.At)
	if err != nil {
		return nil, 0, err
	}
	n := tally.Jobs(c.Opened.Complaint)
	if n == 0 {
		return base, 0, nil
	}
	return base.WithShop(tally), n, nil
}
