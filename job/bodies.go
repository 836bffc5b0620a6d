package job

import (
	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// bodies makes an empty body of each stored kind.
var bodies = map[string]func() Body{}

func init() {
	for _, newBody := range []func() Body{
		func() Body { return new(Opened) }, func() Body { return new(Recorded) }, func() Body { return new(Found) },
		func() Body { return new(Entered) }, func() Body { return new(Swapped) }, func() Body { return new(SwapWatched) },
		func() Body { return new(Repaired) }, func() Body { return new(Proved) }, func() Body { return new(Coded) },
		func() Body { return new(CodesCleared) }, func() Body { return new(Agreed) }, func() Body { return new(Noted) },
		func() Body { return new(Undone) }, func() Body { return new(Closed) },
	} {
		bodies[newBody().kind()] = newBody
	}
}

// Cents is money in hundredths of the workshop's currency.
type Cents int64

// Lamp is what the engine lamp does.
type Lamp string

// The lamp's states; the empty one is unknown.
const (
	LampUnknown  Lamp = ""
	LampOff      Lamp = "off"
	LampSteady   Lamp = "steady"
	LampFlashing Lamp = "flashing"
)

// Lamps lists the valid states.
func Lamps() []Lamp { return []Lamp{LampOff, LampSteady, LampFlashing} }

// Opened begins a card: the car, its engine, the complaint and its conditions.
type Opened struct {
	Car       string            `json:"car"`
	Customer  string            `json:"customer,omitempty"`
	Km        int               `json:"km,omitempty"`
	Engine    engine.Layout     `json:"engine"`
	Ignition  fault.Ignition    `json:"ignition"`
	Injection fault.Injection   `json:"injection"`
	Access    fault.Access      `json:"access"`
	Hard      []engine.Cylinder `json:"hard,omitempty"` // cylinders behind a plenum or the like
	Complaint fault.Complaint   `json:"complaint"`
	Regime    fault.Regime      `json:"regime"` // when the complaint shows
	Words     string            `json:"words,omitempty"`
	Lamp      Lamp              `json:"lamp,omitempty"`
	EveryS    float64           `json:"every_s,omitempty"` // mean seconds between misses; 0: steady
	Hybrid    bool              `json:"hybrid,omitempty"`
}

// Recorded adds a raw recording, kept in the store under its SHA-256.
type Recorded struct {
	SHA256  string       `json:"sha256"`
	Bytes   int64        `json:"bytes"`
	Name    string       `json:"name"`
	Sensor  string       `json:"sensor"` // sound, motion, crank …
	Place   string       `json:"place,omitempty"`
	RateHz  float64      `json:"rate_hz"` // the true rate, where the file's own was corrected
	Seconds float64      `json:"seconds"`
	Regime  fault.Regime `json:"regime,omitempty"`
}

// Found is what an analysis said of a recording on the card.
type Found struct {
	SHA256  string          `json:"sha256"`
	Finding finding.Finding `json:"finding"`
}

// Value is a number read from an instrument, in the unit it was read in.
type Value struct {
	Number float64 `json:"number"`
	Unit   string  `json:"unit,omitempty"`
}

// Result is what a check gave at one cylinder, or with cylinder 0 for the whole
// engine: an outcome of the catalogue, and the values it was judged from.
type Result struct {
	Cylinder engine.Cylinder `json:"cylinder,omitempty"`
	Outcome  string          `json:"outcome"`
	Values   []Value         `json:"values,omitempty"`
}

// Entered is a check done and typed by hand.
type Entered struct {
	Check   string          `json:"check"`
	Results []Result        `json:"results"`
	Regime  fault.Regime    `json:"regime,omitempty"`
	Miss    belief.Presence `json:"miss,omitempty"` // was a miss present at the time?
	Minutes float64         `json:"minutes,omitempty"`
	Cash    Cents           `json:"cash,omitempty"`
	Words   string          `json:"words,omitempty"`
}

// Swapped says that the parts of one kind at A and B changed places, with the
// kinds of Along.
type Swapped struct {
	Part    fault.PartKind   `json:"part"`
	Along   []fault.PartKind `json:"along,omitempty"`
	A       engine.Cylinder  `json:"a"`
	B       engine.Cylinder  `json:"b"`
	Minutes float64          `json:"minutes,omitempty"`
}

// SwapWatched says what the miss did after a swap. Seconds are how long it was
// watched; 0 is unknown and makes "stays" and "vanishes" weak.
type SwapWatched struct {
	Swap    int64           `json:"swap"` // Seq of the Swapped event
	Outcome belief.Follow   `json:"outcome"`
	Before  belief.Presence `json:"before,omitempty"`
	BeforeS float64         `json:"before_s,omitempty"`
	AfterS  float64         `json:"after_s,omitempty"`
	Regime  fault.Regime    `json:"regime,omitempty"`
	Minutes float64         `json:"minutes,omitempty"`
}

// Repaired is work done: a part renewed at a cylinder, or a repair of the
// catalogue at its places, or with both empty another repair in words.
type Repaired struct {
	Repair    string            `json:"repair,omitempty"`    // code in the catalogue, parts aside
	Cylinders []engine.Cylinder `json:"cylinders,omitempty"` // of Repair; none: everywhere
	Part      fault.PartKind    `json:"part,omitempty"`
	Cylinder  engine.Cylinder   `json:"cylinder,omitempty"`
	NewPart   fault.PartID      `json:"new_part,omitempty"`
	Words     string            `json:"words,omitempty"`
	Minutes   float64           `json:"minutes,omitempty"`
	Cash      Cents             `json:"cash,omitempty"`
}

// Proved is an attempt to prove the repair: the same measure in the same
// condition as before it.
type Proved struct {
	Regime     fault.Regime `json:"regime"`
	Before     string       `json:"before,omitempty"` // SHA-256 of the recording before
	After      string       `json:"after,omitempty"`  // SHA-256 of the recording after
	WatchedS   float64      `json:"watched_s"`
	Stretches  int          `json:"stretches,omitempty"` // it was watched in so many stretches, 0: in one go
	Misses     int          `json:"misses"`              // of Stretches: those in which it missed
	Proven     bool         `json:"proven"`
	Confidence float64      `json:"confidence"` // 0 to 1
	Why        string       `json:"why"`
}

// Coded lists trouble codes read from the car and typed in.
type Coded struct {
	Codes []string `json:"codes"`
}

// CodesCleared says that codes were cleared in the car.
type CodesCleared struct{}

// Agreed records a customer's consent to spend up to Limit.
type Agreed struct {
	Who   string `json:"who"`
	How   string `json:"how,omitempty"`
	Limit Cents  `json:"limit,omitempty"`
	Words string `json:"words,omitempty"`
}

// Noted is a remark.
type Noted struct {
	Text string `json:"text"`
}

// Undone takes an earlier event back, as if it had never been entered. Undoing
// an Undone event brings its event back.
type Undone struct {
	Seq int64  `json:"seq"`
	Why string `json:"why,omitempty"`
}

// Closed ends the job.
type Closed struct {
	Cause string `json:"cause,omitempty"`
	Code  string `json:"code,omitempty"` // cause in the catalogue, where it was proven: later jobs learn from it
	Words string `json:"words,omitempty"`
}

func (*Opened) kind() string       { return "opened" }
func (*Recorded) kind() string     { return "recorded" }
func (*Found) kind() string        { return "found" }
func (*Entered) kind() string      { return "entered" }
func (*Swapped) kind() string      { return "swapped" }
func (*SwapWatched) kind() string  { return "swap watched" }
func (*Repaired) kind() string     { return "repaired" }
func (*Proved) kind() string       { return "proved" }
func (*Coded) kind() string        { return "coded" }
func (*CodesCleared) kind() string { return "codes cleared" }
func (*Agreed) kind() string       { return "agreed" }
func (*Noted) kind() string        { return "noted" }
func (*Undone) kind() string       { return "undone" }
func (*Closed) kind() string       { return "closed" }
