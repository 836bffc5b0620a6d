package practice

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"halforder/engine"
)

//go:embed causes.csv
var causesCSV string

// Site says where a kind of fault lives.
type Site string

// The sites of faults. The first four are parts that move when swapped.
const (
	AtCoil     Site = "coil"
	AtPlug     Site = "plug"
	AtBoot     Site = "boot"
	AtInjector Site = "injector"
	AtCylinder Site = "cylinder" // a place: wiring, driver, valve, ring, gasket, runner
	AtFeed     Site = "feed"     // cylinders whose coils share a feed
	AtBank     Site = "bank"
	AtEngine   Site = "engine"
)

// Kind is one row of the fault catalogue.
type Kind struct {
	Name     string // as written in a fault, "coil-weak"
	Cause    string // family of causes, as the fault catalogue names it
	Site     Site
	Title    string // words for a person
	Severity string // what severity 1 means
	Source   string
}

// Kinds lists every fault the engine can have.
func Kinds() []Kind { return slices.Clone(kinds()) }

var kinds = sync.OnceValue(func() []Kind {
	r := csv.NewReader(strings.NewReader(causesCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic("practice: causes.csv: " + err.Error())
	}
	var out []Kind
	for _, f := range rows[1:] {
		out = append(out, Kind{f[0], f[1], Site(f[2]), f[3], f[4], f[5]})
	}
	return out
})

func kindOf(name string) (Kind, bool) {
	i := slices.IndexFunc(kinds(), func(k Kind) bool { return k.Name == name })
	if i < 0 {
		return Kind{}, false
	}
	return kinds()[i], true
}

// Regime says when a fault shows.
type Regime string

// The regimes. Many faults are load- or speed-dependent by their physics
// already; the regime gates them further.
const (
	Always Regime = ""
	Cold   Regime = "cold" // coolant below about 45 °C
	Hot    Regime = "hot"  // coils and engine bay hot
	Load   Regime = "load" // manifold pressure above two thirds of the air's
	Wet    Regime = "wet"  // damp air or a spray of water
	Idling Regime = "idle" // near idle speed
)

var regimes = []Regime{Always, Cold, Hot, Load, Wet, Idling}

// Fault is one thing wrong with the engine.
type Fault struct {
	Kind     string          // a name from Kinds
	Cylinder engine.Cylinder // for parts and places: where it sits when the engine starts its life
	Group    int             // for feeds and banks: which one, from 1; 0 all of them
	Severity float64         // 0 harmless … 1 as the catalogue says
	Regime   Regime

	Chance float64 // 0: always on; else the probability of each firing to be hit
	OnSec  float64 // with OffSec: bursts of this mean length
	OffSec float64 // mean pause between bursts
}

// ParseFault reads one fault as a person types it:
//
//	coil-open@3
//	coil-weak@2:0.8,hot
//	coil-wiring@4:1,bursts=2/10
//	plug-gap@6:0.7,load,random=0.2
//	cam-timing@bank1:0.6
//	plenum-leak:0.5
//
// that is kind, "@" and site, ":" and severity (1 when left out), then regime
// and intermittency in any order.
func ParseFault(text string) (Fault, error) {
	head, rest, _ := strings.Cut(strings.TrimSpace(text), ",")
	f := Fault{Severity: 1}
	head, severity, given := strings.Cut(head, ":")
	name, site, _ := strings.Cut(head, "@")
	f.Kind = name
	kind, ok := kindOf(name)
	if !ok {
		return f, fmt.Errorf("fault %q: kind %q is unknown, expected one of %s", text, name, strings.Join(kindNames(), ", "))
	}
	if err := f.readSite(kind, site); err != nil {
		return f, fmt.Errorf("fault %q: %w", text, err)
	}
	var err error
	if given {
		if f.Severity, err = strconv.ParseFloat(severity, 64); err != nil {
			return f, fmt.Errorf("fault %q: severity %q is not a number", text, severity)
		}
	}
	if err = f.readManner(rest); err != nil {
		return f, fmt.Errorf("fault %q: %w", text, err)
	}
	return f, f.checkNumbers()
}

func kindNames() []string {
	var out []string
	for _, k := range kinds() {
		out = append(out, k.Name)
	}
	return out
}

func (f *Fault) readSite(k Kind, site string) error {
	prefix := ""
	switch k.Site {
	case AtEngine:
		if site != "" {
			return fmt.Errorf("it concerns the whole engine, leave out @%s", site)
		}
		return nil
	case AtBank, AtFeed:
		if site == "" {
			return nil
		}
		prefix = string(k.Site)
	}
	n, err := strconv.Atoi(strings.TrimPrefix(site, prefix))
	if err != nil || !strings.HasPrefix(site, prefix) || n < 1 {
		return fmt.Errorf("site %q, expected %s@%s1", site, k.Name, prefix)
	}
	if prefix == "" {
		f.Cylinder = engine.Cylinder(n)
	} else {
		f.Group = n
	}
	return nil
}

func (f *Fault) readManner(rest string) error {
	for part := range strings.SplitSeq(rest, ",") {
		key, value, _ := strings.Cut(strings.TrimSpace(part), "=")
		var err error
		switch {
		case part == "":
		case value == "" && slices.Contains(regimes, Regime(key)):
			f.Regime = Regime(key)
		case key == "random":
			f.Chance, err = strconv.ParseFloat(value, 64)
		case key == "bursts":
			on, off, _ := strings.Cut(value, "/")
			if f.OnSec, err = strconv.ParseFloat(on, 64); err == nil {
				f.OffSec, err = strconv.ParseFloat(off, 64)
			}
		default:
			return fmt.Errorf("%q, expected cold, hot, load, wet, idle, random=0.2 or bursts=2/10", part)
		}
		if err != nil {
			return fmt.Errorf("%q holds no number", part)
		}
	}
	return nil
}

func (f Fault) checkNumbers() error {
	switch {
	case !(f.Severity >= 0 && f.Severity <= 1):
		return fmt.Errorf("fault %s: severity %g, expected 0 to 1", f, f.Severity)
	case !(f.Chance >= 0 && f.Chance <= 1):
		return fmt.Errorf("fault %s: random %g, expected a probability", f, f.Chance)
	case !(f.OnSec >= 0 && f.OffSec >= 0) || (f.OnSec > 0) != (f.OffSec > 0) || math.IsInf(f.OnSec+f.OffSec, 0):
		return fmt.Errorf("fault %s: bursts need two times in seconds, on/off", f)
	case f.Chance > 0 && f.OnSec > 0:
		return fmt.Errorf("fault %s: either random or in bursts, not both", f)
	case !slices.Contains(regimes, f.Regime):
		return fmt.Errorf("fault %s: regime %q is unknown", f, f.Regime)
	}
	return nil
}

// String is the form ParseFault reads.
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.Kind)
	kind, _ := kindOf(f.Kind)
	switch {
	case f.Cylinder > 0:
		fmt.Fprintf(&b, "@%d", f.Cylinder)
	case f.Group > 0:
		fmt.Fprintf(&b, "@%s%d", kind.Site, f.Group)
	}
	fmt.Fprintf(&b, ":%g", f.Severity)
	if f.Regime != Always {
		b.WriteString("," + string(f.Regime))
	}
	if f.Chance > 0 {
		fmt.Fprintf(&b, ",random=%g", f.Chance)
	}
	if f.OnSec > 0 {
		fmt.Fprintf(&b, ",bursts=%g/%g", f.OnSec, f.OffSec)
	}
	return b.String()
}

func (c Config) checkFaults() error {
	for _, f := range c.Faults {
		if err := c.checkFault(f); err != nil {
			return fmt.Errorf("practice: %w", err)
		}
	}
	return nil
}

func (c Config) checkFault(f Fault) error {
	kind, ok := kindOf(f.Kind)
	if !ok {
		return fmt.Errorf("fault kind %q is unknown, expected one of %s", f.Kind, strings.Join(kindNames(), ", "))
	}
	if err := f.checkNumbers(); err != nil {
		return err
	}
	groups := 0
	switch kind.Site {
	case AtEngine:
	case AtBank:
		groups = len(c.Layout.Banks())
	case AtFeed:
		groups = len(feedSets(c.Layout))
	default:
		if err := c.Layout.Check(f.Cylinder); err != nil {
			return fmt.Errorf("fault %s: %w", f, err)
		}
		if f.Group != 0 {
			return fmt.Errorf("fault %s: sits at a cylinder, not at a group", f)
		}
		return nil
	}
	if f.Cylinder != 0 || f.Group < 0 || f.Group > groups {
		return fmt.Errorf("fault %s: there is no such %s, this engine has %d", f, kind.Site, groups)
	}
	return nil
}

// feedSets are the coil feed groups; an engine without named feeds has one.
func feedSets(l engine.Layout) [][]engine.Cylinder {
	if sets := l.CoilFeeds(); len(sets) > 0 {
		return sets
	}
	return [][]engine.Cylinder{l.Cylinders()}
}
