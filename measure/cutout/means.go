package cutout

import (
	"fmt"
	"slices"
	"strings"

	"halforder/engine"
)

// Means is how cylinders are cut.
type Means string

// The means, safest first.
const (
	InjectorLive Means = "injector"     // injector connector off, engine running
	InjectorOff  Means = "injector-off" // injector connector off with the ignition off, then start
	CoilOff      Means = "coil-off"     // coil connector off with the ignition off, then start
	CoilLive     Means = "coil-live"    // coil connector off, engine running
)

// MeansValues lists the means, safest first.
func MeansValues() []Means { return []Means{InjectorLive, InjectorOff, CoilOff, CoilLive} }

// ParseMeans reads a means; empty text is "not said". The error lists the valid ones.
func ParseMeans(text string) (Means, error) {
	m := Means(strings.ToLower(strings.TrimSpace(text)))
	if m == "" || slices.Contains(MeansValues(), m) {
		return m, nil
	}
	return "", fmt.Errorf("way to cut %q: expected %v", text, MeansValues())
}

// Spark reports whether fuel still reaches the cylinder, so that the catalyst pays.
func (m Means) Spark() bool { return m == CoilOff || m == CoilLive || m == "" }

// Ignition is how the sparks are made; the words are those of the fault
// catalogue.
type Ignition string

// The ignition types.
const (
	CoilOnPlug  Ignition = "coil-on-plug"
	SmartCoil   Ignition = "smart-coil"
	Cassette    Ignition = "cassette"
	NearPlug    Ignition = "near-plug"
	WastedSpark Ignition = "wasted-spark"
	Distributor Ignition = "distributor"
	TwinPlug    Ignition = "twin-plug"
)

// Injection says where the fuel goes; the words are those of the fault catalogue.
type Injection string

// The injection types.
const (
	Port   Injection = "port"
	Direct Injection = "direct"
	Both   Injection = "both"
)

// Way is one way to cut one cylinder, as offered to the technician.
type Way struct {
	Means    Means             `json:"means"`
	Title    string            `json:"title"`
	Takes    []engine.Cylinder `json:"takes"` // cylinders lost
	Part     float64           `json:"part"`  // of each: 1, or ½ when one of two plugs goes
	Steps    []string          `json:"steps"`
	Cautions []string          `json:"cautions"`
	HoldRPM  [2]engine.RPM     `json:"hold_rpm"`  // speed to hold by hand, 0: idle
	Confirm  bool              `json:"confirm"`   // the technician must confirm the cautions first
	MayStall bool              `json:"may_stall"` // the engine may stop
}

// The cautions of trade notes 5, each at its step.
const (
	cautionBay       = "Exhaust extraction on, park brake on, nothing loose near fans and belts. Keep out with a pacemaker."
	cautionVolts     = "Coil primary and secondary can kill: hold the low-voltage connector only, dry hands, insulated tool, one hand. Follow local law and the maker's text."
	cautionNoLead    = "Never lift a lead, boot or coil off its plug with the engine running: the arc finds you, or ruins coil and driver."
	cautionCatalyst  = "Unburnt fuel heats the catalyst: end the cut when told to. Stop if the lamp flashes under load, the exhaust glows or it smells of hot carpet. Not over dry grass."
	cautionLive      = "Unplugging with the ignition on can damage some engine computers, and makers forbid it for many: only if no other way fits."
	cautionDirect    = "Direct injectors have a boosted driver of 50–65 V and fuel under high pressure: connectors on and off only with the ignition off; never loosen a fuel line."
	cautionPairs     = "The computer may shut the injector's driver partner too: watch for two cylinders gone."
	cautionTwoFuels  = "With two injectors per cylinder the other one may make up for it: a cut without effect proves nothing here."
	cautionCodes     = "The test sets codes: read and store the real ones first."
	cautionAutoStart = "Auto-stop off; a hybrid can start by itself: only with training, in the maker's engine-running mode."
)

// Ways lists the ways to cut cylinder c, safest first: injector on port
// injection, then unplugging with the engine off, then, with its warning, the
// low-voltage plug with the engine running. Never the lead. None is left for a
// cassette or distributor whose injectors cannot be reached: use the sound, the
// crank or the misfire counters instead.
//
// knownDead are cylinders that do not work already.
func Ways(l engine.Layout, ignition Ignition, injection Injection, c engine.Cylinder, knownDead ...engine.Cylinder) ([]Way, error) {
	if err := l.Check(c); err != nil {
		return nil, err
	}
	out := append(injectorWays(injection, c), coilWays(l, ignition, c)...)
	for i := range out {
		out[i].adapt(l, knownDead)
	}
	return out, nil
}

func injectorWays(injection Injection, c engine.Cylinder) []Way {
	one := []engine.Cylinder{c}
	switch injection {
	case Port:
		return []Way{{Means: InjectorLive, Title: fmt.Sprintf("Unplug injector %d", c), Takes: one, Part: 1,
			Steps:    []string{fmt.Sprintf("Pull the connector of injector %d.", c), "Push it back until it clicks when told to."},
			Cautions: []string{cautionBay, cautionAutoStart, cautionCodes}}}
	case Both:
		return []Way{{Means: InjectorOff, Title: fmt.Sprintf("Unplug both injectors of cylinder %d, ignition off", c), Takes: one, Part: 1,
			Steps:    offSteps(fmt.Sprintf("both injectors of cylinder %d", c)),
			Cautions: []string{cautionBay, cautionDirect, cautionTwoFuels, cautionPairs, cautionCodes}, Confirm: true}}
	}
	return nil // direct: buried, and its coil is the easier way
}

func offSteps(what string) []string {
	return []string{"Ignition off, wait until the engine stands.", "Unplug " + what + ".", "Start, let it idle, measure for 10 s at most.", "Ignition off, plug in again until it clicks."}
}

func coilWays(l engine.Layout, ignition Ignition, c engine.Cylinder) []Way {
	takes, part, what := []engine.Cylinder{c}, 1.0, fmt.Sprintf("coil %d", c)
	switch ignition {
	case Cassette, Distributor:
		return nil
	case WastedSpark:
		if mate, ok := l.Companion(c); ok {
			takes = []engine.Cylinder{min(c, mate), max(c, mate)}
			what = fmt.Sprintf("the coil of %d and %d", takes[0], takes[1])
		}
	case TwinPlug:
		part, what = 0.5, fmt.Sprintf("one of the two coils of cylinder %d", c)
	}
	cautions := []string{cautionBay, cautionAutoStart, cautionVolts, cautionNoLead, cautionCatalyst, cautionCodes}
	off := Way{Means: CoilOff, Title: "Unplug " + what + ", ignition off", Takes: takes, Part: part, Steps: offSteps(what), Cautions: cautions, Confirm: true}
	live := Way{Means: CoilLive, Title: "Unplug " + what + " with the engine running", Takes: takes, Part: part,
		Steps:    []string{"Unlock the low-voltage connector of " + what + " first, engine off.", "When told to, pull the connector; the coil stays on its plug.", "Push it back until it clicks when told to."},
		Cautions: append([]string{cautionLive}, cautions...), Confirm: true}
	return []Way{off, live}
}

// ownSpeed is the speed to hold a three-cylinder engine at when one is dead
// already: a second cut at idle stops it (trade notes 1.3).
var ownSpeed = [2]engine.RPM{1200, 1500}

// adapt adds what the engine's size and its dead cylinders demand.
func (w *Way) adapt(l engine.Layout, dead []engine.Cylinder) {
	left := l.N() - len(dead)
	for _, c := range w.Takes {
		if !has(dead, c) {
			left--
		}
	}
	w.MayStall = 2*left <= l.N()
	if l.N() <= 3 && len(dead) > 0 || w.MayStall && len(w.Takes) > 1 {
		w.HoldRPM = ownSpeed
		w.Steps = append([]string{fmt.Sprintf("Hold the engine at %.0f–%.0f rpm before the cut: at idle it would stop.", ownSpeed[0], ownSpeed[1])}, w.Steps...)
	}
	if len(w.Takes) > 1 {
		w.Cautions = append(w.Cautions, "This takes two cylinders at once: it tells the pair, not which of them. Use the injectors to part them.")
	}
	if w.Part < 1 {
		w.Cautions = append(w.Cautions, "One of two plugs is left: a healthy cylinder gets weak, not dead. Compare cylinders with each other only.")
	}
}
