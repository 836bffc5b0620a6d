package practice

import (
	"math"

	"halforder/engine"
)

// cylinder is one cylinder on the one-degree grid: j is the crank angle after
// its own firing top dead centre. The gas is held as k = p·Vⁿ, which stays
// constant in a tight, idle cylinder; heat adds (n−1)·Vⁿ⁻¹·dQ to it exactly.
type cylinder struct {
	no     engine.Cylinder
	bank   int
	geo    *slider
	rolls  dice
	filled float64 // healthy deviation of filling

	j       int
	event   int // next j at which something happens
	stage   stage
	k, p    float64
	evo     int
	ivc     int
	sparkAt int
	lead    float64 // fraction of a degree by which the spark precedes sparkAt

	cond                condition
	air, fuel, residual float64 // kg trapped
	chargeK             float64 // temperature at intake closing
	lastAir             float64
	leakSum             float64 // m²
	spark               Spark
	burnt               Burn
	sincespark          float64 // degrees; noBurn: no burn ahead
	burnDelay, burnLen  float64
	invLen, done, heat  float64
	work                float64 // J on the piston since the cycle began
	cycleStart          float64
	topAt               float64 // s, time of firing top dead centre
	peakPa              float64
	coilSilent          int // cycles in a row
	jetSilent           int
	flow                float64 // kg/s leaving through the exhaust valve now
	suck                float64 // kg/s entering now
	kick                float64 // heat release rate now, J per degree
}

type stage int

const (
	closing  stage = iota // waits for intake closing
	charged               // waits for the spark
	expanded              // waits for exhaust opening
	emptied               // waits for top dead centre of gas exchange
)

const noBurn = -2.0 // degrees: below any lead

// Relaxation times of the valves with the piston at the bottom, s (judgement):
// blow-down is over in about 5 ms, filling keeps up to some 6000 rpm.
const (
	exhaustTau = 1.8e-3
	intakeTau  = 0.9e-3
)

// turn moves the cylinder by one degree in dt seconds and returns the work on
// the piston in J.
func (e *Engine) turn(c *cylinder, dt float64) float64 {
	g := c.geo
	switch {
	case c.j >= c.ivc || c.j < c.evo:
		e.keepClosed(c, dt)
	case c.j < cycle/2:
		e.exhaust(c, dt)
	default:
		e.inhale(c, dt)
	}
	before, dv := c.p, g.dv[c.j]
	c.j++
	c.p = c.k * g.ivn[c.j]
	if c.j == cycle {
		c.j, c.topAt = 0, e.now+dt
	}
	if c.j == c.event {
		e.happen(c)
	}
	w := (0.5*(before+c.p) - e.ambient) * dv
	c.work += w
	return w
}

func (e *Engine) keepClosed(c *cylinder, dt float64) {
	g := c.geo
	c.flow, c.suck, c.kick = 0, 0, 0
	if c.sincespark > noBurn {
		c.sincespark++
		e.release(c)
	}
	// Gas lost through leaks at the speed of sound times area: √(RT)·0.6847 at
	// about 600 K, proportional below the critical ratio.
	over := clamp((c.p-e.ambient)/e.ambient, -1, 1)
	lost := chokedK * 415 * c.leakSum * over * dt / g.vol[c.j]
	if lost > 0.5 {
		lost = 0.5
	}
	c.k -= polytropic * lost * c.k
	keep := 1 - lost
	c.air *= keep
	c.fuel *= keep
	c.residual *= keep
	if c.p > c.peakPa {
		c.peakPa = c.p
	}
}

// release adds the heat of the degree just passed.
func (e *Engine) release(c *cylinder) {
	x := burntAt((c.sincespark - c.burnDelay) * c.invLen)
	if x <= c.done {
		return
	}
	c.kick = c.heat * (x - c.done)
	c.k += (polytropic - 1) * c.geo.vg[c.j] * c.kick
	c.done = x
	if x >= 1 {
		c.sincespark = noBurn
	}
}

func (e *Engine) exhaust(c *cylinder, dt float64) {
	g, back := c.geo, e.exhaustPa[c.bank]
	pull := min(dt/exhaustTau*g.ease[c.j], 0.6) * c.cond.exhaustLift
	gone := (c.p - back) * pull
	c.k -= gone * g.vn[c.j]
	const rt = gasR * 900 // J/kg of hot exhaust gas
	c.flow = gone * g.vol[c.j] / (polytropic * rt * dt)
	c.suck, c.kick = 0, 0
}

func (e *Engine) inhale(c *cylinder, dt float64) {
	g := c.geo
	pull := min(dt/intakeTau*g.ease[c.j], 0.6) * c.cond.intakeLift
	gain := (e.manifold.pressure - c.p) * pull
	c.k += gain * g.vn[c.j]
	c.flow, c.kick, c.suck = 0, 0, 0
	if dv := g.dv[c.j]; dv > 0 {
		drawn := c.lastAir * dv / e.swept
		c.suck = drawn / dt
		e.manifold.drawn += drawn
	}
}

func (e *Engine) happen(c *cylinder) {
	switch c.stage {
	case closing:
		e.trap(c)
		c.stage, c.event = charged, c.sparkAt
	case charged:
		e.sparkNow(c)
		c.stage, c.event = expanded, c.evo
	case expanded:
		e.openExhaust(c)
		c.stage, c.event = emptied, cycle/2
	case emptied:
		e.endCycle(c)
		e.beginCycle(c)
		c.stage, c.event = closing, c.ivc
	}
}

// beginCycle renews the condition, keeps the gas left in the clearance and
// injects.
func (e *Engine) beginCycle(c *cylinder) {
	c.cond = e.conditionOf(c.no)
	c.leakSum = 0
	for _, area := range c.cond.leaks {
		c.leakSum += area
	}
	late := e.plant.camLate[c.bank]
	c.ivc = min(e.cfg.Build.IntakeValveCloses+int(late), 650)
	c.evo = min(e.cfg.Build.ExhaustValveOpens+int(late/2), 178)
	c.residual = c.p * c.geo.vol[c.j] / (gasR * e.residualK())
	c.work, c.cycleStart, c.peakPa = 0, e.now, 0
	c.fuel = e.inject(c)
	c.sparkAt = cycle - 20
}

// residualK is the temperature of burnt gas at the end of exhaust, K
// (judgement: 800 K at idle, 1150 K at full load).
func (e *Engine) residualK() float64 { return 800 + 350*ramp(e.manifold.pressure/e.ambient, 0.3, 1) }

// trap fixes the charge at intake closing: burnt and fresh gas mixed at the
// pressure reached, p·V = R(m_air·T_air + m_res·T_res).
func (e *Engine) trap(c *cylinder) {
	v, warm := c.geo.vol[c.j], e.chargeK()
	burntK := e.residualK()
	fresh := max(c.p*v/gasR-c.residual*burntK, 0) * c.filled / warm
	extra := e.straightIn(c, warm)
	gas := fresh * e.manifold.burnt
	e.manifold.drawn += fresh - c.lastAir
	c.lastAir = fresh
	c.air = fresh - gas + extra
	c.fuel += fresh * e.manifold.vapour
	c.residual += gas
	c.k *= 1 + extra*warm/max(fresh*warm+c.residual*burntK, 1e-9)
	c.chargeK = (c.air*warm + c.residual*burntK) / max(c.air+c.residual, 1e-9)
	adv := e.computer.advance
	c.sparkAt = cycle - int(math.Ceil(adv))
	c.lead = math.Ceil(adv) - adv
}

// straightIn is air that a leaking runner gasket lets past the meter: 80 % of
// it ends in its own cylinder.
func (e *Engine) straightIn(c *cylinder, warm float64) float64 {
	if c.cond.runnerLeak == 0 {
		return 0
	}
	flow := orifice(c.cond.runnerLeak, e.ambient, e.airK, e.manifold.pressure)
	return 0.8 * flow * min(120/max(float64(e.rpm()), 60), 0.3)
}

// chargeK is the temperature of fresh charge in the cylinder: warmed by walls.
func (e *Engine) chargeK() float64 { return e.airK + 0.35*(e.heat.coolantC+zeroC-e.airK) }

func (e *Engine) sparkNow(c *cylinder) {
	k := c.chargeK * math.Pow(c.geo.vol[c.ivc]/c.geo.vol[c.j], polytropic-1)
	c.spark = e.strike(c, c.p, k)
	e.ignite(c, c.spark)
	c.done, c.sincespark = 0, noBurn
	if c.heat > 0 {
		c.sincespark = -c.lead
	}
	e.sensors.spark(e, c)
}

func (e *Engine) openExhaust(c *cylinder) {
	c.sincespark = noBurn
	e.gas[c.bank].add(c)
	e.catalyst[c.bank].add(e, c)
}

func (e *Engine) endCycle(c *cylinder) {
	e.truth.firing(e, c)
	e.computer.endedCycle(e, c)
}
