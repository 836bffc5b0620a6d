package job

import (
	"fmt"

	"halforder/engine"
	"halforder/measure/catalyst"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Card is the state of a job, folded from its events.
type Card struct {
	ID     ID
	Last   int64 // number of events on the card
	Opened Opened
	At     Event // the opening event
	Status Status

	Seating    fault.Seating // which part sits where now
	Mended     []belief.Mend // what has been mended so far, parts aside
	Recordings []Stamped[Recorded]
	Findings   []Stamped[Found]
	Readings   []Stamped[Entered]
	Swaps      []Swap
	Repairs    []Stamped[Repaired]
	Proofs     []Stamped[Proved]
	Codes      []string // read and not yet cleared
	Agreements []Stamped[Agreed]
	Notes      []Stamped[Noted]
	Heats      []Heat // what tests did to the catalysts
	Closing    *Stamped[Closed]

	Minutes float64
	Cash    Cents

	Timeline []Event // the events that count, in order
	history  []Event // all of them

	books    *catalyst.Ledger // after the last of Heats, nil: none
	codeRuns codeRuns
}

// Status is how far a job has come.
type Status string

// The stages of a job.
const (
	StatusOpen     Status = "open"
	StatusRepaired Status = "repaired, not yet proven"
	StatusProven   Status = "repaired and proven"
	StatusClosed   Status = "closed"
)

// Stamped is an event's body with its event, and where the parts sat and what
// was mended just before.
type Stamped[B any] struct {
	Event
	What    B
	Seating fault.Seating
	Mended  []belief.Mend
}

// Swap is an exchange of parts and, once watched, its outcome.
type Swap struct {
	Stamped[Swapped]
	Watched *Stamped[SwapWatched]
}

// Layout is the engine of the car.
func (c *Card) Layout() engine.Layout { return c.Opened.Engine }

// History lists all events, taken-back ones too, in order.
func (c *Card) History() []Event { return append([]Event(nil), c.history...) }

// Active reports whether an event counts (has not been undone).
func (c *Card) Active(seq int64) bool {
	for _, e := range c.Timeline {
		if e.Seq == seq {
			return true
		}
	}
	return false
}

// Recording finds a recording on the card by its SHA-256.
func (c *Card) Recording(sha256 string) (Stamped[Recorded], bool) {
	for _, r := range c.Recordings {
		if r.What.SHA256 == sha256 {
			return r, true
		}
	}
	return Stamped[Recorded]{}, false
}

// Proven is the last proof that held, if no repair or swap came after it.
func (c *Card) Proven() (Stamped[Proved], bool) {
	if c.Status != StatusProven && c.Status != StatusClosed {
		return Stamped[Proved]{}, false
	}
	for i := len(c.Proofs) - 1; i >= 0; i-- {
		p := c.Proofs[i]
		if p.What.Proven && p.Seq > c.lastChange() {
			return p, true
		}
	}
	return Stamped[Proved]{}, false
}

// lastChange is the number of the last event that changed the car.
func (c *Card) lastChange() int64 {
	var seq int64
	for _, r := range c.Repairs {
		seq = max(seq, r.Seq)
	}
	for _, s := range c.Swaps {
		seq = max(seq, s.Seq)
	}
	return seq
}

// NewPartID names a part that comes new to the car: the next letter, or number
// after Z, that no part of its kind on this card has had.
func (c *Card) NewPartID(kind fault.PartKind) fault.PartID {
	used := map[fault.PartID]bool{}
	for _, e := range c.history {
		if r, ok := e.Body.(*Repaired); ok {
			used[r.NewPart] = true
		}
	}
	for n := c.Layout().N() + 1; ; n++ {
		id := fault.FirstID(kind, engine.Cylinder(n))
		if n > 26 {
			id = fault.PartID(fmt.Sprintf("%s %d", kind, n))
		}
		if !used[id] {
			return id
		}
	}
}
