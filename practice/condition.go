package practice

import "halforder/engine"

// leakTo says where the gas of a leaking cylinder goes and is heard.
type leakTo int

const (
	toExhaust leakTo = iota
	toIntake
	toCrankcase
	toCoolant
	toNeighbour
	leakPaths
)

const mm2 = 1e-6 // m²

// condition is the state of one cylinder's parts and places for one cycle.
type condition struct {
	noTrigger, coilOpen, unplugged bool
	dwell                          float64 // fraction of the commanded dwell
	ohms, henry                    float64
	energy                         float64 // fraction of the coil energy that reaches the gap
	gapMM                          float64
	shunt                          float64 // fraction of the voltage lost at the plug
	flashKV                        float64 // voltage at which the boot lets go
	erratic                        float64 // chance of a spark outside the gap

	noFuel  bool
	flow    float64 // injector flow, fraction of nominal
	dripKgS float64

	leaks                   [leakPaths]float64 // m²
	intakeLift, exhaustLift float64
	runnerLeak              float64 // m²
	swallow                 float64 // fraction of fuel that carbon keeps
	coolant                 float64 // coolant in the chamber, 0…1
}

// plant is the state of what cylinders share.
type plant struct {
	plenumLeak, egr, purge float64 // m²
	pressure               float64 // fuel pressure, fraction
	supplyKgS              float64 // most the pump gives
	heat, erratic          float64 // heating value, fraction; erratic burn 0…1
	meter                  float64 // what the air meter reads of the truth
	oxygen                 []float64
	block                  []float64 // back-pressure, in healthy exhausts, by bank
	camLate                []float64 // degrees by bank
	wheelDeg               float64   // false spacing of the computer's crank signal
	unbalance              float64   // kg·m
}

// Healthy coil: 0.5 Ω and 3 mH are illustrative values,
// within the 0.3–1 Ω of trade practice.
func (e *Engine) healthy(c engine.Cylinder) condition {
	coil, plug, inj := e.shelf.at(AtCoil, c), e.shelf.at(AtPlug, c), e.shelf.at(AtInjector, c)
	out := condition{
		dwell: 1, ohms: coilOhms * copper(e.heat.coilC), henry: coilHenry, energy: coil.energy,
		gapMM: plug.gapMM, flashKV: 45, flow: inj.flow, intakeLift: 1, exhaustLift: 1,
	}
	out.leaks[toCrankcase] = 0.15 * mm2 // judgement: a few per cent on a leak-down tester
	return out
}

// copper is the resistance of a copper winding relative to 20 °C. Published:
// 0.00393 per kelvin.
func copper(celsius float64) float64 { return 1 + 0.00393*(celsius-20) }

// conditionOf is the state of cylinder c for its next cycle.
func (e *Engine) conditionOf(c engine.Cylinder) condition {
	out := e.healthy(c)
	for _, f := range e.faults {
		if f.concerns(e, c) {
			f.hurt(&out, f.now(e))
		}
	}
	unplugged := e.unplugged[c-1]
	out.unplugged = unplugged.coil
	out.noFuel = out.noFuel || unplugged.injector || e.computer.cut[c-1] || e.partnerShorts(c)
	return out
}

// partnerShorts reports whether a dead injector on the same driver takes the
// injector of c down with it.
func (e *Engine) partnerShorts(c engine.Cylinder) bool {
	if !e.cfg.Computer.DriverPairs {
		return false
	}
	for _, f := range e.faults {
		if f.Kind != "injector-dead" || f.onFor < 0.5 {
			continue
		}
		for _, pair := range e.cfg.Layout.DriverPairs() {
			if contains(pair, c) && e.sits(f.part, pair) {
				return true
			}
		}
	}
	return false
}

// sits reports whether an injector sits at one of the cylinders.
func (e *Engine) sits(p *Part, at []engine.Cylinder) bool {
	for _, c := range at {
		if e.shelf.at(AtInjector, c) == p {
			return true
		}
	}
	return false
}

// concerns reports whether the fault touches cylinder c as parts sit now.
func (f *liveFault) concerns(e *Engine, c engine.Cylinder) bool {
	switch f.kind.Site {
	case AtCylinder:
		return f.Cylinder == c || f.Kind == "head-gasket" && e.gasketMate(f.Cylinder) == c
	case AtFeed:
		return f.Group == 0 || contains(feedSets(e.cfg.Layout)[f.Group-1], c)
	case AtBank, AtEngine:
		return false
	}
	return e.shelf.at(f.kind.Site, c) == f.part
}

// gasketMate is the block neighbour a blown gasket opens to, 0 without one.
func (e *Engine) gasketMate(c engine.Cylinder) engine.Cylinder {
	if mates := e.cfg.Layout.BlockNeighbours(c); len(mates) > 0 {
		return mates[len(mates)-1]
	}
	return 0
}

func contains(set []engine.Cylinder, c engine.Cylinder) bool {
	for _, other := range set {
		if other == c {
			return true
		}
	}
	return false
}

// hurt changes a cylinder's condition by the fault at severity s. What
// severity 1 means stands in causes.csv.
func (f *liveFault) hurt(c *condition, s float64) {
	if s <= 0 {
		return
	}
	switch f.Kind {
	case "coil-open":
		c.coilOpen = true
	case "coil-weak":
		c.energy *= 1 - 0.75*s
	case "coil-shorted":
		c.henry *= 1 - 0.75*s
		c.energy *= 1 - 0.9*s
	case "plug-gap":
		c.gapMM += 1.4 * s
	case "plug-cracked":
		c.erratic = max(c.erratic, s)
	case "plug-fouled":
		c.shunt = max(c.shunt, 0.9*s)
	case "boot-leak":
		c.flashKV = min(c.flashKV, 45-38*s)
	case "coil-wiring", "coil-feed":
		c.ohms += 4 * s * s
		c.coilOpen = c.coilOpen || s >= 0.995
	case "coil-driver":
		c.dwell *= 1 - s
		c.noTrigger = c.noTrigger || s >= 0.995
	default:
		f.hurtFlow(c, s)
	}
}

func (f *liveFault) hurtFlow(c *condition, s float64) {
	switch f.Kind {
	case "injector-dead", "injector-wiring":
		c.noFuel = c.noFuel || s >= 0.5
	case "injector-clogged":
		c.flow *= 1 - 0.85*s
	case "injector-leaking":
		c.dripKgS += 0.035e-3 * s
	case "exhaust-valve-leak":
		c.leaks[toExhaust] += 12 * mm2 * s
	case "intake-valve-leak":
		c.leaks[toIntake] += 12 * mm2 * s
	case "ring-leak":
		c.leaks[toCrankcase] += 10 * mm2 * s
	case "head-gasket":
		c.leaks[toNeighbour] += 4 * mm2 * s
		c.leaks[toCoolant] += 2 * mm2 * s
		c.coolant = max(c.coolant, s*f.soaked)
	case "intake-valve-shut":
		c.intakeLift *= (1 - s) * (1 - s) * (1 - s)
	case "exhaust-valve-shut":
		c.exhaustLift *= (1 - s) * (1 - s) * (1 - s)
	case "runner-leak":
		c.runnerLeak += 9 * mm2 * s
	case "valve-carbon":
		c.swallow = max(c.swallow, 0.6*s*f.cold)
		c.leaks[toIntake] += 0.5 * mm2 * s
	}
}

func (e *Engine) plantNow() plant {
	banks := len(e.cfg.Layout.Banks())
	p := plant{pressure: 1, supplyKgS: 1, heat: 1, meter: 1, oxygen: make([]float64, banks), block: make([]float64, banks), camLate: make([]float64, banks)}
	for b := range p.block {
		p.block[b] = 1
	}
	for _, f := range e.faults {
		if s := f.shared(e); s > 0 {
			f.hurtPlant(e, &p, s)
		}
	}
	return p
}

// shared is the present severity of a bank or engine fault, else 0.
func (f *liveFault) shared(e *Engine) float64 {
	if f.kind.Site != AtBank && f.kind.Site != AtEngine {
		return 0
	}
	return f.now(e)
}

func (f *liveFault) hurtPlant(e *Engine, p *plant, s float64) {
	size := e.litres / 2
	switch f.Kind {
	case "plenum-leak":
		p.plenumLeak += 5 * mm2 * size * s
	case "egr-open":
		p.egr += 7 * mm2 * size * s
	case "purge-open":
		p.purge += 2.5 * mm2 * size * s
	case "fuel-pressure":
		p.pressure *= 1 - 0.55*s
	case "fuel-supply":
		p.supplyKgS = min(p.supplyKgS, 0.9e-3*float64(e.n)*(1.3-s))
	case "fuel-bad":
		p.heat *= 1 - 0.4*s
		p.erratic = max(p.erratic, s)
	case "air-meter":
		p.meter *= 1 - 0.25*s
	case "crank-signal":
		p.wheelDeg += 1.2 * s
	case "shake":
		p.unbalance += 0.02 * s
	}
	for b := range p.block {
		if f.Group == 0 || f.Group == b+1 {
			f.hurtBank(p, b, s)
		}
	}
}

func (f *liveFault) hurtBank(p *plant, b int, s float64) {
	switch f.Kind {
	case "cam-timing":
		p.camLate[b] += 40 * s
	case "oxygen-sensor":
		p.oxygen[b] += 0.2 * s
	case "exhaust-blocked":
		p.block[b] *= 1 + 39*s
	}
}
