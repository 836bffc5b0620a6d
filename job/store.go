package job

import (
	"context"
	"errors"
	"io"
)

// Store keeps cards and the recordings beside them. Implementations pass the
// suite of store/storetest.
type Store interface {
	// Create begins a card with its first event and returns its number.
	Create(ctx context.Context, first Event) (ID, error)
	// Append adds events to a card whose last event is after, all or none.
	// ErrMoved: another process added to the card meanwhile; read again.
	// When it returns nil the events survive a crash.
	Append(ctx context.Context, id ID, after int64, events ...Event) error
	// Events reads a card in order. ErrNoJob when there is none.
	Events(ctx context.Context, id ID) ([]Event, error)
	// Jobs lists the numbers of all cards, newest first.
	Jobs(ctx context.Context) ([]ID, error)
	// SaveRecording keeps raw bytes under their SHA-256, as lower-case hex. The
	// same bytes are kept once. Nothing is left behind on error.
	SaveRecording(ctx context.Context, r io.Reader) (sha256 string, size int64, err error)
	// OpenRecording reads one back. ErrNoRecording when there is none.
	OpenRecording(ctx context.Context, sha256 string) (io.ReadCloser, error)
	Close() error
}

// What a Store can answer.
var (
	ErrNoJob       = errors.New("no such job: list them to see the numbers")
	ErrNoRecording = errors.New("the recording is not in the store")
	ErrMoved       = errors.New("the card was changed by someone else meanwhile")
	ErrNewerStore  = errors.New("the store was written by a newer version: update halforder, nothing was changed")
	ErrNotAStore   = errors.New("this is not a halforder store: choose another folder")
	ErrDiskFull    = errors.New("the disk is full: free some space and repeat, nothing was changed")
)
