package practice

import "math"

// BusSensor asks the computer for its values, one at a time in turn.
type BusSensor struct {
	PerSecond float64  // answers a second over all values: 5–10 on old buses, 20–60 on CAN (from memory)
	Names     []string // nil: all the computer gives
}

// BusValue is one answer. Values are rounded as the open diagnostic standard
// rounds them.
type BusValue struct {
	T     float64 // s
	Name  string
	Value float64
}

type busItem struct {
	name string
	unit float64 // resolution
	read func(*Engine) float64
}

// busItems gives each value with the resolution of its one- or two-byte form
// in the public table of service 01 values.
var busItems = []busItem{
	{"rpm", 0.25, func(e *Engine) float64 { return e.computer.speed * 30 / math.Pi }},
	{"load_percent", 100.0 / 255, func(e *Engine) float64 { return e.loadPercent() }},
	{"coolant_c", 1, func(e *Engine) float64 { return e.heat.coolantC }},
	{"short_trim_1_percent", 100.0 / 128, func(e *Engine) float64 { return e.trimPercent(0, false) }},
	{"long_trim_1_percent", 100.0 / 128, func(e *Engine) float64 { return e.trimPercent(0, true) }},
	{"short_trim_2_percent", 100.0 / 128, func(e *Engine) float64 { return e.trimPercent(1, false) }},
	{"long_trim_2_percent", 100.0 / 128, func(e *Engine) float64 { return e.trimPercent(1, true) }},
	{"manifold_kpa", 1, func(e *Engine) float64 { return e.manifold.pressure / 1000 }},
	{"speed_kmh", 1, func(e *Engine) float64 { return e.driver.kmh() }},
	{"advance_deg", 0.5, func(e *Engine) float64 { return e.computer.advance }},
	{"intake_air_c", 1, func(e *Engine) float64 { return e.airK - zeroC + 0.15*(e.heat.coolantC-e.airK+zeroC) }},
	{"air_g_s", 0.01, func(e *Engine) float64 { return 1000 * e.manifold.meter * e.plant.meter }},
	{"throttle_percent", 100.0 / 255, func(e *Engine) float64 { return 100 * e.throttleArea() / (6e-4 * float64(e.n)) }},
	{"run_seconds", 1, func(e *Engine) float64 { return math.Floor(e.computer.running) }},
	{"lambda_1", 2.0 / 65536, func(e *Engine) float64 { return e.sensedLambda(0) }},
	{"lambda_2", 2.0 / 65536, func(e *Engine) float64 { return e.sensedLambda(1) }},
	{"air_pressure_kpa", 1, func(e *Engine) float64 { return e.ambient / 1000 }},
	{"catalyst_1_c", 0.1, func(e *Engine) float64 { return e.catalystC(0) }},
	{"catalyst_2_c", 0.1, func(e *Engine) float64 { return e.catalystC(1) }},
	{"battery_v", 0.001, func(e *Engine) float64 { return e.volts }},
	{"lamp", 1, func(e *Engine) float64 { return lampLevel(e.lamp()) }},
}

func (e *Engine) trimPercent(bank int, long bool) float64 {
	if bank >= len(e.computer.trims) {
		return math.NaN()
	}
	if t := e.computer.trims[bank]; long {
		return 100 * t.long
	} else {
		return 100 * t.short
	}
}

func (e *Engine) sensedLambda(bank int) float64 {
	if bank >= len(e.gas) {
		return math.NaN()
	}
	return min(e.gas[bank].sensed*(1-e.plant.oxygen[bank]), 1.99)
}

func (e *Engine) catalystC(bank int) float64 {
	if bank >= len(e.catalyst) {
		return math.NaN()
	}
	return e.catalyst[bank].celsius
}

func lampLevel(l Lamp) float64 {
	switch l {
	case LampSteady:
		return 1
	case LampFlashing:
		return 2
	}
	return 0
}

// lamp is the malfunction lamp now.
func (e *Engine) lamp() Lamp {
	switch {
	case e.now < e.computer.monitor.hurting && e.omega > 0:
		return LampFlashing
	case e.computer.codes.lampOn():
		return LampSteady
	}
	return LampOff
}

type busPoller struct {
	items []busItem
	next  float64
	gap   float64
	turn  int
	rolls dice
	out   []BusValue
}

func newBusPoller(e *Engine, want BusSensor) *busPoller {
	p := &busPoller{gap: 1 / want.PerSecond, next: e.now, rolls: newDice(e.cfg.Seed, "bus")}
	for _, b := range busItems {
		if len(want.Names) == 0 || named(want.Names, b.name) {
			if !math.IsNaN(b.read(e)) {
				p.items = append(p.items, b)
			}
		}
	}
	return p
}

func named(names []string, name string) bool {
	for _, n := range names {
		if n == name {
			return true
		}
	}
	return false
}

// tick answers what is due; answers come up to a third of the gap late.
func (p *busPoller) tick(e *Engine) {
	for len(p.items) > 0 && e.now >= p.next {
		b := p.items[p.turn%len(p.items)]
		p.turn++
		if e.ignition {
			late := 0.3 * p.gap * p.rolls.unit()
			p.out = append(p.out, BusValue{round(p.next+late, 1e-3), b.name, round(b.read(e), b.unit)})
		}
		p.next += p.gap
	}
}

func (p *busPoller) take() []BusValue {
	out := p.out
	p.out = nil
	return out
}
