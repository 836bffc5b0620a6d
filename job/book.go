package job

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Book is how the outside works with cards.
type Book struct {
	Store Store
	Now   func() time.Time
}

// maxTries is how often a card may move under our hands before we give up: far
// above what two or three people on one job cause.
const maxTries = 50

// Open begins a job.
func (b Book) Open(ctx context.Context, by string, o Opened) (*Card, error) {
	first := Event{Seq: 1, At: b.Now(), By: by, Body: &o}
	if _, err := Fold(0, []Event{first}); err != nil {
		return nil, misfit(err, 0)
	}
	id, err := b.Store.Create(ctx, first)
	if err != nil {
		return nil, err
	}
	return b.Card(ctx, id)
}

// Card reads a job.
func (b Book) Card(ctx context.Context, id ID) (*Card, error) {
	events, err := b.Store.Events(ctx, id)
	if err != nil {
		return nil, err
	}
	return Fold(id, events)
}

// Add stores what happened, all of it or nothing, and returns the card after
// it. What does not fit the card gives a *MisfitError and changes nothing.
func (b Book) Add(ctx context.Context, id ID, by string, bodies ...Body) (*Card, error) {
	for range maxTries {
		past, err := b.Store.Events(ctx, id)
		if err != nil {
			return nil, err
		}
		fresh := b.stamp(int64(len(past)), by, bodies)
		card, err := Fold(id, append(past[:len(past):len(past)], fresh...))
		if err != nil {
			return nil, misfit(err, int64(len(past)))
		}
		if err := card.heardTwice(int64(len(past))); err != nil {
			return nil, &MisfitError{err}
		}
		err = b.Store.Append(ctx, id, int64(len(past)), fresh...)
		if errors.Is(err, ErrMoved) {
			continue
		}
		return card, err
	}
	return nil, fmt.Errorf("job %d: %w", id, ErrMoved)
}

// heardTwice reports a recording entered after past that was on the card before it:
// the same bytes again are no second witness. Folding lets it pass, because older
// cards may hold such.
func (c *Card) heardTwice(past int64) error {
	for i, r := range c.Recordings {
		if r.Seq <= past {
			continue
		}
		for _, before := range c.Recordings[:i] {
			if before.What.SHA256 == r.What.SHA256 {
				return fmt.Errorf("%s is on the card already, as entry %d: it says nothing new; record again, or take that entry back first", r.What.Name, before.Seq)
			}
		}
	}
	return nil
}

func (b Book) stamp(after int64, by string, bodies []Body) []Event {
	now := b.Now()
	var out []Event
	for i, body := range bodies {
		out = append(out, Event{Seq: after + int64(i) + 1, At: now, By: by, Body: body})
	}
	return out
}

// Current is the one job that is not closed. ErrNoOpenJob when there is none,
// a *ManyOpenError when there are several: a guess would put a reading on the
// wrong car.
func (b Book) Current(ctx context.Context) (*Card, error) {
	ids, err := b.Store.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	var open []*Card
	for _, id := range ids {
		card, err := b.Card(ctx, id)
		if err != nil {
			return nil, err
		}
		if card.Status != StatusClosed {
			open = append(open, card)
		}
	}
	switch len(open) {
	case 0:
		return nil, ErrNoOpenJob
	case 1:
		return open[0], nil
	}
	return nil, &ManyOpenError{open}
}

// ErrNoOpenJob says that every job is closed, or none was opened.
var ErrNoOpenJob = errors.New("there is no open job: open one, or name a job by its number")

// ManyOpenError says that a job has to be named.
type ManyOpenError struct{ Open []*Card }

func (e *ManyOpenError) Error() string {
	var names []string
	for _, c := range e.Open {
		names = append(names, fmt.Sprintf("%d (%s)", c.ID, c.Opened.Car))
	}
	return fmt.Sprintf("%d jobs are open, say which one is meant: %s", len(e.Open), strings.Join(names, ", "))
}

// MisfitError is something new that does not fit the card; nothing was stored.
type MisfitError struct{ err error }

func (e *MisfitError) Error() string { return e.err.Error() }

func (e *MisfitError) Unwrap() error { return e.err }

// misfit words why new events do not fit a card of past events: either they are
// wrong themselves, or taking something back broke what was built on it.
func misfit(err error, past int64) error {
	var fold *FoldError
	switch {
	case !errors.As(err, &fold):
		return &MisfitError{err}
	case fold.Seq > past:
		return &MisfitError{fold.Err}
	}
	return &MisfitError{fmt.Errorf("event %d (%s) builds on it, undo that first: %w", fold.Seq, fold.Kind, fold.Err)}
}
