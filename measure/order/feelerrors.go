package order

import (
	"errors"
	"fmt"
)

// StillError: the sensor gave the same values all along.
type StillError struct{}

func (e *StillError) Error() string {
	return "the sensor gave the same values all along: check that it is on and may be read, and record again"
}

// FeltError is what is wrong with a motion recording, in words for motion.
// errors.As finds the kind beneath: *TooShortError, *NoEngineError.
type FeltError struct{ Err error }

func (e *FeltError) Unwrap() error { return e.Err }

func (e *FeltError) Error() string {
	var short *TooShortError
	var none *NoEngineError
	switch {
	case errors.As(e.Err, &short):
		return fmt.Sprintf("%.1f s of motion are too short: record at least %.0f s, better 20 s", short.Seconds, short.Needed)
	case errors.As(e.Err, &none):
		return "no running engine can be felt: check that it runs, lay the sensor flat on the engine itself, not on a soft cover, and leave it alone while recording"
	}
	return e.Err.Error()
}

func feltError(err error) error { return &FeltError{err} }
