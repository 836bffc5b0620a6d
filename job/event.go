package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"
)

// ID is the number of a job in its store, from 1.
type ID int64

// Event is one line of a job card: something that happened at a moment. Cards
// only grow; what was wrong is taken back by an Undone event.
type Event struct {
	Seq  int64     // place on the card, from 1, given when it is stored
	At   time.Time // when it was entered
	By   string    // who entered it, may be empty
	Body Body
}

// Body is what happened. Its kinds are the types of this package that have a
// kind method.
type Body interface {
	// kind is the name the event is stored under; it never changes.
	kind() string
	// apply folds the event into the card or says why it does not fit.
	apply(*Card, Event) error
}

// ErrUnknownKind is an event this version of the program does not know.
var ErrUnknownKind = errors.New("unknown kind of event, written by a newer version: update halforder")

type wireEvent struct {
	Seq  int64           `json:"seq"`
	At   time.Time       `json:"at"`
	By   string          `json:"by,omitempty"`
	Kind string          `json:"kind"`
	Body json.RawMessage `json:"body"`
}

// EncodeEvent writes the stored form of an event: one JSON object.
func EncodeEvent(e Event) ([]byte, error) {
	body, err := json.Marshal(e.Body)
	if err != nil {
		return nil, fmt.Errorf("event %s: %w", e.Body.kind(), err)
	}
	return json.Marshal(wireEvent{e.Seq, e.At.UTC(), e.By, e.Body.kind(), body})
}

// DecodeEvent reads the stored form. An unknown kind gives ErrUnknownKind, an
// unknown field or a torn text an error that names the kind.
func DecodeEvent(data []byte) (Event, error) {
	var w wireEvent
	if err := strictJSON(data, &w); err != nil {
		return Event{}, fmt.Errorf("event: %w", err)
	}
	newBody, ok := bodies[w.Kind]
	if !ok {
		return Event{}, fmt.Errorf("event %q: %w", w.Kind, ErrUnknownKind)
	}
	body := newBody()
	if err := strictJSON(w.Body, body); err != nil {
		return Event{}, fmt.Errorf("event %q: %w", w.Kind, err)
	}
	return Event{w.Seq, w.At, w.By, body}, nil
}

// strictJSON refuses unknown fields: reading past them would lose them.
func strictJSON(data []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("more than one JSON value")
	}
	return nil
}
