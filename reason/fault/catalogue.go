package fault

import (
	"fmt"
	"math"
	"slices"
)

// Lives says in what a cause sits.
type Lives string

// The homes of causes. Part homes move with the part, all others stay.
const (
	InCoil        Lives = "coil"
	InPlug        Lives = "plug"
	InBoot        Lives = "boot" // the lead where coil and plug stand apart
	InInjector    Lives = "injector"
	AtCylinder    Lives = "cylinder"
	AtCoilSeat    Lives = "coil seat"    // the wires and driver of one coil place
	AtNeighbours  Lives = "neighbours"   // between two cylinders of a block
	AtConsecutive Lives = "consecutive"  // two cylinders that fire one after the other
	AtCompanions  Lives = "companions"   // two cylinders one crank turn apart: one is on valve overlap as the other fires
	AtFeed        Lives = "coil feed"    // the coils on one fuse, relay or ground
	AtDriver      Lives = "driver group" // injectors on one driver
	AtCutSet      Lives = "cut set"      // the cylinders the engine can switch off
	AtBank        Lives = "bank"
	AtEngine      Lives = "engine"
	Nowhere       Lives = "nowhere" // not a misfire at all
)

var allLives = []Lives{InCoil, InPlug, InBoot, InInjector, AtCylinder, AtCoilSeat, AtNeighbours, AtConsecutive,
	AtCompanions, AtFeed, AtDriver, AtCutSet, AtBank, AtEngine, Nowhere}

// Part reports whether the cause moves with a part.
func (l Lives) Part() bool {
	return l == InCoil || l == InPlug || l == InBoot || l == InInjector
}

// Codes of the two causes that every catalogue has.
const (
	NotMisfire = "not-misfire"
	Unlisted   = "unlisted" // at one cylinder; UnlistedAll for the whole engine
	// UnlistedAll is an unlisted cause that touches all cylinders.
	UnlistedAll = "unlisted-all"
)

// Cause is one thing that can be wrong.
type Cause struct {
	Code       string
	Title      string
	Lives      Lives
	Severities []Weight // shares that sum to 1, by Severity
	Ignitions  []Ignition
	Injections []Injection
	Repair     string  // code of the repair that ends it
	Contact    float64 // chance that moving parts at its place quiets it for now
	Wears      bool    // comes with use: a new part cannot have it
	Source     string

	at int // place in the catalogue
}

// Unlisted reports whether the cause stands for what the catalogue lacks.
func (c *Cause) Unlisted() bool { return c.Code == Unlisted || c.Code == UnlistedAll }

// Fits reports whether a car of this kind can have the cause.
func (c *Cause) Fits(ign Ignition, inj Injection) bool {
	return fits(c.Ignitions, c.Injections, ign, inj)
}

func fits(igns []Ignition, injs []Injection, ign Ignition, inj Injection) bool {
	okInj := injs == nil || slices.Contains(injs, inj)
	return okInj && (igns == nil || slices.Contains(igns, ign))
}

// Scope is what one check looks at.
type Scope string

// The scopes.
const (
	PerCylinder  Scope = "cylinder" // one cylinder at a time
	EachCylinder Scope = "each"     // one go, an outcome for each cylinder
	PerBank      Scope = "bank"
	WholeEngine  Scope = "engine"
)

var allScopes = []Scope{PerCylinder, EachCylinder, PerBank, WholeEngine}

// Check is something a technician can do to learn more.
type Check struct {
	Code        string
	Title       string
	Asks        string // the question it answers, for the screen
	Scope       Scope
	Swaps       PartKind // set where the check is a swap
	Reach       bool     // the coil, plug or injector must be got at
	MinutesEasy float64
	MinutesHard float64  // where Reach and the way is not open yet
	Cash        float64  // consumables
	Risk        float64  // money: expected cost of what it may spoil
	Regimes     []Regime // where it can be done, the first is usual
	Ignitions   []Ignition
	Injections  []Injection
	Needs       []string // preconditions, plain words
	Disturbs    []PartKind
	Cautions    []Caution
	Stops       []Caution // hard stops to confirm first
	Outcomes    []Outcome // the first is what a sound engine gives; later ones outshout earlier
	Source      string
}

// Outcome is one answer of a check.
type Outcome struct {
	Code  string
	Words string
}

// Fits reports whether the check can be done on a car of this kind.
func (k *Check) Fits(ign Ignition, inj Injection) bool {
	return fits(k.Ignitions, k.Injections, ign, inj)
}

// Outcome finds an outcome by code; the error lists the valid ones.
func (k *Check) Outcome(code string) (int, error) {
	for i, o := range k.Outcomes {
		if o.Code == code {
			return i, nil
		}
	}
	return 0, fmt.Errorf("check %q has no outcome %q: use one of %s", k.Code, code, joinWords(k.OutcomeCodes()))
}

// OutcomeCodes lists the codes of the outcomes.
func (k *Check) OutcomeCodes() []string {
	out := make([]string, len(k.Outcomes))
	for i, o := range k.Outcomes {
		out[i] = o.Code
	}
	return out
}

// Caution is a warning that belongs to a step.
type Caution struct {
	Code  string
	Words string
}

// Repair ends one or more causes at a site.
type Repair struct {
	Code        string
	Title       string
	Renews      Lives // the part kind it renews, or the place it mends
	MinutesEasy float64
	MinutesHard float64
	Parts       float64 // money for one
	Reach       bool
	Needless    float64 // money lost in trust when it was not needed, beyond its price
	Ignitions   []Ignition
	Injections  []Injection
	Cautions    []Caution
	Source      string
}

// Fits reports whether the repair exists on a car of this kind.
func (r *Repair) Fits(ign Ignition, inj Injection) bool {
	return fits(r.Ignitions, r.Injections, ign, inj)
}

// States are the chances that a touched cylinder works, is weak or is dead.
type States [3]float64

// Indices into States.
const (
	Works = iota
	Weak
	Dead
)

// Behaviour is what a severity does in a regime.
type Behaviour struct {
	States  States
	Between float64 // mean seconds between its shows while it rests
}

// ComplaintInfo is what a complaint says before anything is measured.
type ComplaintInfo struct {
	Title      string
	Mix        []Weight // other complaints it is made of, empty for a plain one
	Severities []Weight // how much each severity fits the complaint
	NotMisfire float64  // chance that nothing misfires
	NotListed  float64  // chance of a cause the catalogue lacks
	Pairs      float64  // chance of two faults at once
}

// When says whether the fault shows itself during the check.
type When int

// A fault shows (the cylinder misses) or rests.
const (
	Showing When = iota
	Resting
)

// Link says that two causes come together more often than by chance.
type Link struct {
	A, B   string
	Same   bool // at the same cylinder; else elsewhere
	Lift   float64
	Source string
}

// Catalogue is everything the reasoning knows of causes, checks and repairs.
// It is read-only once loaded and safe for concurrent use.
type Catalogue struct {
	causes     []*Cause
	checks     []*Check
	repairs    []*Repair
	complaints map[Complaint]ComplaintInfo
	priors     map[Complaint]map[string]float64
	behaviours map[Severity]map[Regime]Behaviour
	responses  map[responseKey]*[]float64
	spoken     map[[2]string]bool      // check and subject pairs that have a response
	answers    map[string][]*[]float64 // by check: the response of each cause, see cell
	gauges     map[string][]Gauge
	units      map[string]unit
	links      []Link
	settings   map[string]Setting
	cautions   map[string]cautionInfo
	written    map[string]string // where a cause, check or complaint was written, by code
}

// Setting is a number of the model that is not in another table.
type Setting struct {
	Value  float64
	Unit   string
	Words  string
	Source string
}

// Causes lists all causes in the order of the data.
func (c *Catalogue) Causes() []*Cause { return slices.Clone(c.causes) }

// Checks lists all checks in the order of the data.
func (c *Catalogue) Checks() []*Check { return slices.Clone(c.checks) }

// Repairs lists all repairs in the order of the data.
func (c *Catalogue) Repairs() []*Repair { return slices.Clone(c.repairs) }

// Cause finds a cause by code; the error lists the codes there are.
func (c *Catalogue) Cause(code string) (*Cause, error) {
	return find("cause", code, c.causes, func(x *Cause) string { return x.Code })
}

// Check finds a check by code; the error lists the codes there are.
func (c *Catalogue) Check(code string) (*Check, error) {
	return find("check", code, c.checks, func(x *Check) string { return x.Code })
}

// Repair finds a repair by code; the error lists the codes there are.
func (c *Catalogue) Repair(code string) (*Repair, error) {
	return find("repair", code, c.repairs, func(x *Repair) string { return x.Code })
}

func find[T any](what, code string, in []*T, codeOf func(*T) string) (*T, error) {
	codes := make([]string, len(in))
	for i, x := range in {
		if codes[i] = codeOf(x); codes[i] == code {
			return x, nil
		}
	}
	return nil, fmt.Errorf("unknown %s %q: use one of %s", what, code, joinWords(codes))
}

// RepairOf is the repair that ends a cause on a car of this kind, nil where the
// catalogue has none.
func (c *Catalogue) RepairOf(x *Cause, ign Ignition, inj Injection) *Repair {
	for _, r := range c.repairs {
		if r.Code == x.Repair && r.Fits(ign, inj) {
			return r
		}
	}
	return nil
}

// SwapCheck is the check that swaps parts of a kind on a car of this kind.
func (c *Catalogue) SwapCheck(kind PartKind, ign Ignition, inj Injection) (*Check, error) {
	for _, k := range c.checks {
		if k.Swaps == kind && k.Fits(ign, inj) {
			return k, nil
		}
	}
	return nil, fmt.Errorf("the %s of a car with %s ignition and %s injection cannot be swapped", kind, ign, inj)
}

// Complaint is what is known of a complaint.
func (c *Catalogue) Complaint(x Complaint) ComplaintInfo { return c.complaints[x] }

// Prior is the share of a cause among the single causes of a complaint, before
// it is known which of them the car can have. A mixed complaint is resolved.
func (c *Catalogue) Prior(x Complaint, cause string) float64 {
	info := c.complaints[x]
	if len(info.Mix) == 0 {
		return c.priors[x][cause]
	}
	sum := 0.0
	for _, w := range info.Mix {
		sum += w.P * c.priors[Complaint(w.Name)][cause]
	}
	return sum
}

// WithPriors is the catalogue with other priors: change gets each complaint that
// is not mixed, each cause and its share, and returns the new share (0 or more).
func (c *Catalogue) WithPriors(change func(x Complaint, cause string, share float64) float64) *Catalogue {
	out := *c
	out.priors = map[Complaint]map[string]float64{}
	for x, shares := range c.priors {
		out.priors[x] = map[string]float64{}
		for cause, p := range shares {
			if p = change(x, cause, p); p >= 0 && !math.IsInf(p, 1) {
				out.priors[x][cause] = p
			}
		}
	}
	return &out
}

// priorCases is how many closed jobs the priors of the catalogue are worth
// against the shop's own. Judgement (prior).
const priorCases = 20

// Tally is how many jobs of each complaint proved each cause to be the one.
type Tally map[Complaint]map[string]float64

// Add counts one more job.
func (t Tally) Add(x Complaint, cause string) {
	if t[x] == nil {
		t[x] = map[string]float64{}
	}
	t[x][cause]++
}

// Jobs is how many of a complaint are counted.
func (t Tally) Jobs(x Complaint) int {
	n := 0.0
	for _, count := range t[x] {
		n += count
	}
	return int(n)
}

// WithShop blends the shop's own closed jobs into the priors. n jobs move a share
// p to (20·p + count)/(20 + n), on the scale of 100.
func (c *Catalogue) WithShop(counts Tally) *Catalogue {
	totals := map[Complaint]float64{}
	for x, byCause := range counts {
		for _, n := range byCause {
			totals[x] += max(n, 0)
		}
	}
	return c.WithPriors(func(x Complaint, cause string, share float64) float64 {
		n := max(counts[x][cause], 0)
		return (priorCases*share + 100*n) / (priorCases + totals[x])
	})
}

// Behaviour is what a severity does to the cylinders it touches.
func (c *Catalogue) Behaviour(s Severity, r Regime) Behaviour { return c.behaviours[s][r] }

// HasCaution reports whether a caution of this code is in the catalogue.
func (c *Catalogue) HasCaution(code string) bool { _, ok := c.cautions[code]; return ok }

// Links lists the causes that come together.
func (c *Catalogue) Links() []Link { return slices.Clone(c.links) }

// Setting is a number of the model by name; an unknown name is a programmer's
// error and panics, because Load has checked that all are there.
func (c *Catalogue) Setting(name string) float64 {
	s, ok := c.settings[name]
	if !ok {
		panic("fault: no setting " + name)
	}
	return s.Value
}

// Settings lists the settings by name.
func (c *Catalogue) Settings() map[string]Setting {
	out := make(map[string]Setting, len(c.settings))
	for k, v := range c.settings {
		out[k] = v
	}
	return out
}
