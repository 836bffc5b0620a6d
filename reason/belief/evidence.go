package belief

import (
	"halforder/engine"
	"halforder/finding"
	"halforder/reason/fault"
)

// Car is what is known before anything is measured.
type Car struct {
	Layout    engine.Layout     `json:"layout"`
	Ignition  fault.Ignition    `json:"ignition"`
	Injection fault.Injection   `json:"injection"`
	Complaint fault.Complaint   `json:"complaint"`
	Access    fault.Access      `json:"access"`               // empty: easy
	Hard      []engine.Cylinder `json:"hard,omitempty"`       // cylinders behind a plenum or the like, where the rest is easy
	Seating   fault.Seating     `json:"seating,omitempty"`    // on arrival; nil: fault.FirstSeating
	MaxFaults int               `json:"max_faults,omitempty"` // faults at once: 1, 2 or 3; 0 means 2
}

// Presence says whether the miss was there at the time.
type Presence string

// The presences; the empty one is unknown.
const (
	Unknown Presence = ""
	Present Presence = "present"
	Absent  Presence = "absent"
)

// Evidence is one thing seen, with the circumstances that give it its weight.
// Exactly one of Reading, Swap, Finding, Watched and Renewed is set.
type Evidence struct {
	ID      string        `json:"id"`                // for the reader, "reading 4"
	Seating fault.Seating `json:"seating,omitempty"` // where the parts sat; for a swap: before it; nil: as on arrival
	Regime  fault.Regime  `json:"regime,omitempty"`
	Mended  []Mend        `json:"mended,omitempty"` // what had been mended by then, parts aside
	Miss    Presence      `json:"miss,omitempty"`   // was a miss present at the time; for a swap: before it

	Reading *Reading            `json:"reading,omitempty"`
	Swap    *Swap               `json:"swap,omitempty"`
	Finding *finding.Likelihood `json:"finding,omitempty"`
	Source  string              `json:"source,omitempty"` // of a finding: what it came from; those of one source share mistakes
	Watched *Watched            `json:"watched,omitempty"`
	Renewed *Renewed            `json:"renewed,omitempty"`
}

// Reading is the outcome of a check of the catalogue.
type Reading struct {
	Check     string            `json:"check"`
	Cylinders []engine.Cylinder `json:"cylinders,omitempty"` // each gave Outcome; none: the whole engine
	Outcome   string            `json:"outcome"`
}

// Follow is what the miss did when parts changed places.
type Follow string

// The four outcomes of a swap.
const (
	Follows  Follow = "follows"  // now at B, not at A
	Stays    Follow = "stays"    // where it was
	Vanishes Follow = "vanishes" // nowhere
	AtBoth   Follow = "both"     // at A and B, or new elsewhere
)

// FollowValues lists the valid outcomes of a swap.
func FollowValues() []Follow { return []Follow{Follows, Stays, Vanishes, AtBoth} }

// Swap is the exchange of the parts of one kind between A, where the miss was
// thought to be, and B.
type Swap struct {
	Kind    fault.PartKind   `json:"kind"`
	Along   []fault.PartKind `json:"along,omitempty"` // kinds that went with it, the boot with its coil
	A       engine.Cylinder  `json:"a"`
	B       engine.Cylinder  `json:"b"`
	Outcome Follow           `json:"outcome"`
	Before  float64          `json:"before_s,omitempty"` // seconds watched before, 0 unknown
	After   float64          `json:"after_s,omitempty"`  // seconds watched after, 0 unknown
}

// Mend is a repair of something that is no movable part: wiring, a leak, a
// setting. Evidence taken afterwards names it, as it names the seating.
type Mend struct {
	Repair    string            `json:"repair"`              // code in the catalogue
	Cylinders []engine.Cylinder `json:"cylinders,omitempty"` // where; none: everywhere
}

// Renewed says that a new part came in at a cylinder. By itself it proves
// nothing; what is seen afterwards does.
type Renewed struct {
	Kind     fault.PartKind  `json:"kind"`
	Cylinder engine.Cylinder `json:"cylinder"`
	Part     fault.PartID    `json:"part"`
}
