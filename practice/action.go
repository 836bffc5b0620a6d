package practice

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
)

// Action is one thing done to the engine: a verb and its words, as in a script
// line without the time.
//
//	key on | key off
//	start                       the starter turns until the engine runs, 6 s at most
//	crank 5                     turn on the starter for so many seconds, fuel off
//	stop                        engine off, key off
//	unplug coil 3               or injector
//	reconnect coil 3
//	swap coil 1 3               or plug, boot, injector; engine off
//	renew coil 3                or plug, boot, injector; engine off; "all" for every one
//	mend runner-leak 2          repair a place; bank or feed number for groups; engine off
//	hold 2500                   hold an engine speed with the pedal
//	release                     foot off, brake off
//	pedal 40                    pedal at so many per cent
//	brake 60                    brake torque at the crank in N·m, as on a dynamometer
//	gear 3                      drive: in gear, rolling at the matching speed; 0: neutral
//	cruise 80                   hold a road speed in km/h (in gear)
//	slope 6                     slope of the road in per cent
//	load 400                    electrical load in W more
//	spray on | spray off        water mist on coils and leads
//	clear codes
type Action string

// Do carries out one action now. The error says why it cannot be done; the
// engine is then unchanged.
func (e *Engine) Do(a Action) error {
	words := strings.Fields(string(a))
	if len(words) == 0 {
		return fmt.Errorf("practice: empty action")
	}
	verb, ok := verbs[words[0]]
	if !ok {
		return fmt.Errorf("practice: action %q: %q is unknown, expected one of %s", a, words[0], strings.Join(verbNames(), ", "))
	}
	if len(words)-1 != verb.words {
		return fmt.Errorf("practice: action %q: %s takes %d words, for instance %q", a, words[0], verb.words, verb.example)
	}
	if err := verb.do(e, words[1:]); err != nil {
		return fmt.Errorf("practice: action %q: %w", a, err)
	}
	e.truth.event(e, string(a))
	return nil
}

type verb struct {
	words   int
	example string
	do      func(*Engine, []string) error
}

var verbs map[string]verb

func init() { // a map literal would refer to itself through Do
	verbs = map[string]verb{
		"key":       {1, "key on", (*Engine).doKey},
		"start":     {0, "start", (*Engine).doStart},
		"crank":     {1, "crank 5", (*Engine).doCrank},
		"stop":      {0, "stop", (*Engine).doStop},
		"unplug":    {2, "unplug coil 3", func(e *Engine, w []string) error { return e.plug(w, true) }},
		"reconnect": {2, "reconnect coil 3", func(e *Engine, w []string) error { return e.plug(w, false) }},
		"swap":      {3, "swap coil 1 3", (*Engine).doSwap},
		"renew":     {2, "renew coil 3", (*Engine).doRenew},
		"mend":      {2, "mend runner-leak 2", (*Engine).doMend},
		"hold":      {1, "hold 2500", (*Engine).doHold},
		"release":   {0, "release", (*Engine).doRelease},
		"pedal":     {1, "pedal 40", (*Engine).doPedal},
		"brake":     {1, "brake 60", setNumber(0, 2000, func(e *Engine, x float64) { e.load = x })},
		"gear":      {1, "gear 3", (*Engine).doGear},
		"cruise":    {1, "cruise 80", (*Engine).doCruise},
		"slope":     {1, "slope 6", setNumber(-20, 30, func(e *Engine, x float64) { e.driver.grade = x / 100 })},
		"load":      {1, "load 400", setNumber(0, 5000, func(e *Engine, x float64) { e.accessoryW = x })},
		"spray":     {1, "spray on", (*Engine).doSpray},
		"clear":     {1, "clear codes", (*Engine).doClear},
	}
}

func verbNames() []string {
	var out []string
	for name := range verbs {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

func setNumber(lo, hi float64, set func(*Engine, float64)) func(*Engine, []string) error {
	return func(e *Engine, w []string) error {
		x, err := number(w[0], lo, hi)
		if err == nil {
			set(e, x)
		}
		return err
	}
}

func number(text string, lo, hi float64) (float64, error) {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x >= lo && x <= hi) {
		return 0, fmt.Errorf("%q, expected a number from %g to %g", text, lo, hi)
	}
	return x, nil
}

func (e *Engine) turning() bool { return e.omega > 0 || e.cranking }

func (e *Engine) doKey(w []string) error {
	switch w[0] {
	case "on":
		e.ignition = true
	case "off":
		return e.doStop(nil)
	default:
		return fmt.Errorf("%q, expected on or off", w[0])
	}
	return nil
}

func (e *Engine) doStart([]string) error {
	if e.turning() {
		return fmt.Errorf("the engine turns already")
	}
	e.ignition, e.noFuel = true, false
	e.crankFor(6)
	return nil
}

func (e *Engine) doCrank(w []string) error {
	seconds, err := number(w[0], 0.1, 60)
	if err != nil {
		return err
	}
	if e.turning() {
		return fmt.Errorf("the engine turns already: stop it first")
	}
	e.ignition, e.noFuel = true, true
	e.crankFor(seconds)
	return nil
}

func (e *Engine) crankFor(seconds float64) {
	e.cranking, e.crankEnd = true, e.now+seconds
	e.volts = min(e.volts, 12.6)
	e.computer.keyOn()
}

// doStop switches off: no spark, no fuel; the engine runs down. A driving
// cycle ends.
func (e *Engine) doStop([]string) error {
	e.cranking, e.ignition, e.noFuel = false, false, true
	e.driver = driver{}
	e.computer.codes.endDrive()
	clear(e.computer.cut)
	return nil
}

func (e *Engine) plug(w []string, off bool) error {
	c, err := e.cylinderNamed(w[1])
	if err != nil {
		return err
	}
	u := &e.unplugged[c-1]
	state := map[string]*bool{"coil": &u.coil, "injector": &u.injector}[w[0]]
	if state == nil {
		return fmt.Errorf("%q has no connector here, expected coil or injector", w[0])
	}
	if *state == off {
		return fmt.Errorf("%s %d is %s already", w[0], c, map[bool]string{true: "unplugged", false: "connected"}[off])
	}
	*state = off
	if w[0] == "coil" && e.cfg.Ignition == WastedSpark { // one connector for the pair
		if mate, ok := e.cfg.Layout.Companion(c); ok {
			e.unplugged[mate-1].coil = off
		}
	}
	return nil
}

func (e *Engine) cylinderNamed(text string) (engine.Cylinder, error) {
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, fmt.Errorf("%q is not a cylinder number", text)
	}
	c := engine.Cylinder(n)
	return c, e.cfg.Layout.Check(c)
}

func (e *Engine) partNamed(site, cylinder string) (Site, engine.Cylinder, error) {
	if !slices.Contains(partSites, Site(site)) {
		return "", 0, fmt.Errorf("%q is no part that moves, expected coil, plug, boot or injector", site)
	}
	c, err := e.cylinderNamed(cylinder)
	return Site(site), c, err
}

func (e *Engine) engineOff() error {
	if e.turning() {
		return fmt.Errorf("the engine turns: stop it first")
	}
	return nil
}

func (e *Engine) doSwap(w []string) error {
	site, a, err := e.partNamed(w[0], w[1])
	if err != nil {
		return err
	}
	b, err := e.cylinderNamed(w[2])
	if err != nil {
		return err
	}
	if err := e.engineOff(); err != nil {
		return err
	}
	return e.shelf.swap(site, a, b)
}

func (e *Engine) doRenew(w []string) error {
	all := w[1] == "all"
	if all {
		w = []string{w[0], "1"}
	}
	site, c, err := e.partNamed(w[0], w[1])
	if err != nil {
		return err
	}
	if err := e.engineOff(); err != nil {
		return err
	}
	if !all {
		e.shelf.renew(site, c)
		return nil
	}
	for i := range e.shelf.slots[site] {
		e.shelf.slots[site][i] = e.shelf.newPart(site)
	}
	return nil
}

// doMend repairs a place. Mending what is not broken is allowed: it costs time
// and changes nothing.
func (e *Engine) doMend(w []string) error {
	kind, ok := kindOf(w[0])
	if !ok {
		return fmt.Errorf("%q is unknown, expected one of %s", w[0], strings.Join(kindNames(), ", "))
	}
	if slices.Contains(partSites, kind.Site) {
		return fmt.Errorf("a %s is a part: renew it", kind.Site)
	}
	n, err := strconv.Atoi(w[1])
	if err != nil || n < 0 {
		return fmt.Errorf("%q, expected the number of the cylinder, bank or feed, 0 for the whole engine", w[1])
	}
	if kind.Site == AtCylinder {
		if err := e.cfg.Layout.Check(engine.Cylinder(n)); err != nil {
			return err
		}
	}
	if err := e.engineOff(); err != nil {
		return err
	}
	e.faults = slices.DeleteFunc(e.faults, func(f *liveFault) bool {
		return f.Kind == kind.Name && (kind.Site == AtEngine || n == 0 || int(f.Cylinder)+f.Group == n || f.Group+int(f.Cylinder) == 0)
	})
	return nil
}

func (e *Engine) doHold(w []string) error {
	rpm, err := number(w[0], 900, 7000)
	if err == nil {
		e.holdSpeed(engine.RPM(rpm))
	}
	return err
}

func (e *Engine) doRelease([]string) error {
	e.driver.hold, e.driver.fixed, e.driver.kmhSet, e.load = 0, 0, 0, 0
	return nil
}

func (e *Engine) doPedal(w []string) error {
	x, err := number(w[0], 0, 100)
	if err == nil {
		e.driver.hold, e.driver.kmhSet, e.driver.fixed = 0, 0, x/100
	}
	return err
}

func (e *Engine) doGear(w []string) error {
	x, err := number(w[0], 0, float64(len(e.cfg.Vehicle.Ratios)))
	if err != nil {
		return err
	}
	if x != math.Trunc(x) {
		return fmt.Errorf("%g is not a gear", x)
	}
	if x > 0 && e.omega < 80 {
		return fmt.Errorf("the engine turns too slowly to drive: hold at least 900 rpm first")
	}
	e.engage(int(x))
	return nil
}

func (e *Engine) doCruise(w []string) error {
	x, err := number(w[0], 5, 200)
	if err != nil {
		return err
	}
	if e.driver.gear == 0 {
		return fmt.Errorf("no gear is in: gear 3 first")
	}
	e.driver.kmhSet = x
	return nil
}

func (e *Engine) doSpray(w []string) error {
	if w[0] != "on" && w[0] != "off" {
		return fmt.Errorf("%q, expected on or off", w[0])
	}
	e.wet = w[0] == "on" || e.cfg.Air.Wet
	return nil
}

func (e *Engine) doClear(w []string) error {
	if w[0] != "codes" {
		return fmt.Errorf("%q, expected codes", w[0])
	}
	e.computer.clear()
	return nil
}
