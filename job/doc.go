// Package job is the job card: one car, one complaint, and everything that
// happened since, as a list of events that only grows.
//
// The card's state (which part sits where, what was measured, what it cost,
// whether it is proven) is folded from the events by [Fold] and never stored
// beside them. To correct a mistake, add an [Undone] event.
//
// A [Book] is what the outside uses: it reads a card, checks that something new
// fits, and stores it, trying again when another process was quicker.
package job
