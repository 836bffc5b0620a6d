// Package cutout measures the cut-out test: one cylinder at a time is taken
// away, and what the engine loses says what that cylinder did.
package cutout
