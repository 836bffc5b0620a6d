package main

import (
	"context"

	"halforder/job"
)

// readOnce remembers the cards read during one command, which finds the open job
// and learns from the closed ones among all of them.
type readOnce struct {
	job.Store
	events map[job.ID][]job.Event
}

func newReadOnce(s job.Store) *readOnce { return &readOnce{s, map[job.ID][]job.Event{}} }

func (r *readOnce) Events(ctx context.Context, id job.ID) ([]job.Event, error) {
	if known, ok := r.events[id]; ok {
		return known, nil
	}
	read, err := r.Store.Events(ctx, id)
	if err == nil {
		r.events[id] = read
	}
	return read, err
}

// Append forgets the card, also where it fails because the card has moved.
func (r *readOnce) Append(ctx context.Context, id job.ID, after int64, events ...job.Event) error {
	delete(r.events, id)
	return r.Store.Append(ctx, id, after, events...)
}
