package main

import (
	"context"
	"errors"
	"testing"

	"halforder/job"
)

// countingStore counts what is read, and fails to append once.
type countingStore struct {
	job.Store
	reads int
	moved bool
}

func (s *countingStore) Events(context.Context, job.ID) ([]job.Event, error) {
	s.reads++
	return []job.Event{{Seq: int64(s.reads)}}, nil
}

func (s *countingStore) Append(context.Context, job.ID, int64, ...job.Event) error {
	if s.moved {
		return nil
	}
	s.moved = true
	return job.ErrMoved
}

// A card is read once, and again after something was added or it moved.
func TestReadOnce(t *testing.T) {
	ctx, under := context.Background(), &countingStore{}
	s := newReadOnce(under)
	read := func(want int64) {
		t.Helper()
		for range 2 {
			events, err := s.Events(ctx, 3)
			if err != nil || events[0].Seq != want {
				t.Fatalf("got %v (%v), want what reading %d gave", events, err, want)
			}
		}
	}
	read(1)
	if err := s.Append(ctx, 3, 1); !errors.Is(err, job.ErrMoved) {
		t.Fatalf("appending gave %v, want that the card has moved", err)
	}
	read(2)
	if err := s.Append(ctx, 3, 1); err != nil {
		t.Fatal(err)
	}
	read(3)
}
