package plan

import (
	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Options are the circumstances of the next step. The zero value is a warm
// idling engine, parts as on arrival, nothing opened.
type Options struct {
	Seating fault.Seating     // where the parts sit now; nil: as on arrival
	Mended  []belief.Mend     // what has been mended so far, parts aside
	Regime  fault.Regime      // how the engine can be run now; empty: idle
	Miss    belief.Presence   // is the miss there now
	Opened  []engine.Cylinder // hard cylinders whose cover is off already
	Rate    float64           // money per hour; 0: the catalogue's

	// Forbids lists what the job rules out: codes of checks, of repairs, or of
	// cautions (then no step that carries the caution is proposed).
	Forbids []string
	Hybrid  bool // the engine may start by itself: the hybrid stop applies

	Along []fault.PartKind // kinds that move with a coil when it is swapped, such as its boot

	Depth int // checks looked ahead; 0: 2
	Limit int // suggestions wanted; 0: UsualLimit
}

// UsualLimit is how many suggestions there are where nobody says.
const UsualLimit = 5

// usualDepth is how many checks are looked ahead.
const usualDepth = 2

func (o Options) withDefaults(b *belief.Belief) Options {
	if o.Seating == nil {
		o.Seating = b.Car().Seating
	}
	if o.Regime == "" || o.Regime == fault.Any {
		o.Regime = fault.Idle
	}
	if o.Rate == 0 {
		o.Rate = b.Catalogue().Setting("rate")
	}
	if o.Depth == 0 {
		o.Depth = usualDepth
	}
	if o.Limit == 0 {
		o.Limit = UsualLimit
	}
	return o
}

// Suggestion is one possible next step.
type Suggestion struct {
	Check     string            `json:"check,omitempty"`  // code; empty for a repair
	Repair    string            `json:"repair,omitempty"` // code; empty for a check
	Title     string            `json:"title"`            // "Cut out one cylinder: cylinder 3"
	Asks      string            `json:"asks,omitempty"`
	Cylinders []engine.Cylinder `json:"cylinders,omitempty"` // of a swap: from, to
	Part      fault.PartID      `json:"part,omitempty"`      // of a repair that renews a part
	Kind      fault.PartKind    `json:"kind,omitempty"`      // of a swap or renewal
	Sweep     bool              `json:"sweep,omitempty"`     // each of the cylinders in turn
	Regime    fault.Regime      `json:"regime"`
	Minutes   float64           `json:"minutes"`
	Cash      float64           `json:"cash"`     // parts and consumables
	Cost      float64           `json:"cost"`     // of this step, money
	Expected  float64           `json:"expected"` // of everything to a proven repair, this step included
	Saves     float64           `json:"saves"`    // against the best plan of repairs without any check
	Bits      float64           `json:"bits"`     // expected information
	Why       string            `json:"why"`
	Outcomes  []Prospect        `json:"outcomes"`
	Cautions  []string          `json:"cautions,omitempty"`
	Stops     []string          `json:"stops,omitempty"` // must be confirmed first
	Needs     []string          `json:"needs,omitempty"`
}

// Prospect is one outcome and what it would do.
type Prospect struct {
	Outcome  string          `json:"outcome"`
	Cylinder engine.Cylinder `json:"cylinder,omitempty"` // of a sweep
	Words    string          `json:"words"`
	P        float64         `json:"p"`
	Then     string          `json:"then"`                // "it is coil C at cylinder 5, 93 % sure"
	RulesOut []string        `json:"rules_out,omitempty"` // suspects it would as good as clear
	Open     []string        `json:"open,omitempty"`      // suspects that would be left, likeliest first
	Expected float64         `json:"expected"`            // money still to come after it
}
