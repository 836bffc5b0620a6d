package fault

import (
	"fmt"
	"slices"
	"strings"
)

// Ignition says how the sparks are made and so what can fail and be moved.
type Ignition string

// The ignition types of the trade.
const (
	CoilOnPlug  Ignition = "coil-on-plug" // one two-wire coil per cylinder, driver in the computer
	SmartCoil   Ignition = "smart-coil"   // one coil per cylinder with its driver inside
	Cassette    Ignition = "cassette"     // the coils of a bank in one rail
	NearPlug    Ignition = "near-plug"    // one coil per cylinder and a short lead
	WastedSpark Ignition = "wasted-spark" // one coil per companion pair, leads
	Distributor Ignition = "distributor"  // one coil for all, cap, rotor, leads
	TwinPlug    Ignition = "twin-plug"    // two coils and plugs per cylinder
)

// Ignitions lists the valid ignition types.
func Ignitions() []Ignition {
	return []Ignition{CoilOnPlug, SmartCoil, Cassette, NearPlug, WastedSpark, Distributor, TwinPlug}
}

// ParseIgnition reads an ignition type; the error lists the valid ones.
func ParseIgnition(text string) (Ignition, error) {
	return parseWord("ignition type", text, Ignitions())
}

// Injection says where the fuel goes.
type Injection string

// The injection types.
const (
	Port   Injection = "port"
	Direct Injection = "direct"
	Both   Injection = "both" // a port and a direct injector per cylinder
)

// Injections lists the valid injection types.
func Injections() []Injection { return []Injection{Port, Direct, Both} }

// ParseInjection reads an injection type; the error lists the valid ones.
func ParseInjection(text string) (Injection, error) {
	return parseWord("injection type", text, Injections())
}

// Complaint is the kind of trouble the customer brings, and so the column of
// priors to start from.
type Complaint string

// The complaints.
const (
	Rough      Complaint = "rough"  // rough, nothing else known yet
	DeadOne    Complaint = "dead"   // one cylinder dead at idle
	WeakOne    Complaint = "weak"   // one cylinder weak or now and then
	ColdOnly   Complaint = "cold"   // only after a cold start
	LoadOnly   Complaint = "load"   // only when pulling
	BankWide   Complaint = "bank"   // a whole bank
	RandomAll  Complaint = "random" // random, or all cylinders
	PairMisses Complaint = "pair"   // a companion pair
)

// Complaints lists the valid complaints.
func Complaints() []Complaint {
	return []Complaint{Rough, DeadOne, WeakOne, ColdOnly, LoadOnly, BankWide, RandomAll, PairMisses}
}

// ParseComplaint reads a complaint; the error lists the valid ones.
func ParseComplaint(text string) (Complaint, error) {
	return parseWord("complaint", text, Complaints())
}

// Regime is how the engine ran while something was seen.
type Regime string

// The regimes. Any is "not noted".
const (
	Any    Regime = "any"
	Idle   Regime = "idle" // warm, idling
	Cold   Regime = "cold" // first minutes after a cold start
	Hot    Regime = "hot"  // heat-soaked
	Loaded Regime = "load" // pulling
	Wet    Regime = "wet"  // damp or misted with water
)

// Regimes lists the valid regimes.
func Regimes() []Regime { return []Regime{Any, Idle, Cold, Hot, Loaded, Wet} }

// ParseRegime reads a regime; empty text is Any, the error lists the valid ones.
func ParseRegime(text string) (Regime, error) {
	if strings.TrimSpace(text) == "" {
		return Any, nil
	}
	return parseWord("regime", text, Regimes())
}

// Access says how hard it is to get at a cylinder's coil and plug.
type Access string

// The two kinds of access.
const (
	Easy Access = "easy"
	Hard Access = "hard" // behind a plenum, cowl or the like that must come off first
)

// Accesses lists the valid kinds of access.
func Accesses() []Access { return []Access{Easy, Hard} }

// ParseAccess reads a kind of access; the error lists the valid ones.
func ParseAccess(text string) (Access, error) { return parseWord("access", text, Accesses()) }

// Severity is the manner in which a fault shows itself.
type Severity string

// The severities. What each does to a cylinder in each regime is data.
const (
	SevDead    Severity = "dead"    // all the time
	SevWeak    Severity = "weak"    // all the time, in part
	SevErratic Severity = "erratic" // comes and goes by itself
	SevLoad    Severity = "load"    // when pulling
	SevCold    Severity = "cold"    // when cold
	SevHot     Severity = "hot"     // when hot
	SevWet     Severity = "wet"     // when damp
	SevIdle    Severity = "idle"    // at idle, gone at higher speed
	SevQuiet   Severity = "quiet"   // no cylinder is touched: a signal only
)

var allSeverities = []Severity{SevDead, SevWeak, SevErratic, SevLoad, SevCold, SevHot, SevWet, SevIdle, SevQuiet}

// Severities lists the valid severities.
func Severities() []Severity { return slices.Clone(allSeverities) }

// severityIndex is the place of a severity in Severities; an unknown one counts
// as quiet.
func severityIndex(s Severity) int {
	for i, x := range allSeverities {
		if x == s {
			return i
		}
	}
	return len(allSeverities) - 1
}

// ParseSeverity reads a severity; the error lists the valid ones.
func ParseSeverity(text string) (Severity, error) {
	return parseWord("severity", text, Severities())
}

func parseWord[T ~string](what, text string, valid []T) (T, error) {
	word := T(strings.ToLower(strings.TrimSpace(text)))
	if slices.Contains(valid, word) {
		return word, nil
	}
	var zero T
	return zero, fmt.Errorf("unknown %s %q: use one of %s", what, text, joinWords(valid))
}

func joinWords[T ~string](words []T) string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return strings.Join(out, ", ")
}
