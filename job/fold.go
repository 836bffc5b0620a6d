package job

import (
	"errors"
	"fmt"
)

// FoldError is an event that does not fit the card before it.
type FoldError struct {
	Seq  int64
	Kind string
	Err  error
}

func (e *FoldError) Error() string { return fmt.Sprintf("event %d (%s): %v", e.Seq, e.Kind, e.Err) }

func (e *FoldError) Unwrap() error { return e.Err }

// Fold builds the card from all its events. An event that does not fit gives a
// *FoldError.
func Fold(id ID, events []Event) (*Card, error) {
	counted, err := active(events)
	if err != nil {
		return nil, err
	}
	card := &Card{ID: id, Status: StatusOpen, history: events, Last: int64(len(events))}
	for i, e := range counted {
		if err := card.add(e, i == 0); err != nil {
			return nil, &FoldError{e.Seq, e.Body.kind(), err}
		}
	}
	return card, nil
}

func (c *Card) add(e Event, first bool) error {
	_, opening := e.Body.(*Opened)
	_, closing := e.Body.(*Closed)
	switch {
	case first && !opening:
		return errors.New("a card begins with the opening of the job")
	case !first && opening:
		return errors.New("the job is open already")
	case c.Status == StatusClosed && closing:
		return errors.New("the job is closed already")
	case c.Status == StatusClosed:
		return errors.New("the job is closed: undo the closing first")
	}
	if err := e.Body.apply(c, e); err != nil {
		return err
	}
	c.Timeline = append(c.Timeline, e)
	return nil
}

// active lists the events that count: all but the undone and the undoing ones.
// It reads backwards, because an Undone counts only while it is not undone.
func active(events []Event) ([]Event, error) {
	gone := map[int64]bool{}
	for i := len(events) - 1; i >= 0; i-- {
		undo, ok := events[i].Body.(*Undone)
		if !ok || gone[events[i].Seq] {
			continue
		}
		if err := checkUndo(undo.Seq, events[i].Seq, gone); err != nil {
			return nil, err
		}
		gone[undo.Seq] = true
	}
	var out []Event
	for _, e := range events {
		if _, undo := e.Body.(*Undone); !undo && !gone[e.Seq] {
			out = append(out, e)
		}
	}
	return out, nil
}

func checkUndo(target, by int64, gone map[int64]bool) error {
	switch {
	case target == 1:
		return errors.New("undo: the opening of a job cannot be taken back, close the job instead")
	case target < 1 || target >= by:
		return fmt.Errorf("undo: there is no event %d to take back, see the numbers with the card", target)
	case gone[target]:
		return fmt.Errorf("undo: event %d is taken back already", target)
	}
	return nil
}
