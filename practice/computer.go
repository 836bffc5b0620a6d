package practice

import "halforder/engine"

// computer is the engine computer: fuel, spark, idle, trims, misfire counters
// and codes. It sees only what its sensors would show.
type computer struct {
	cfg     Config
	cut     []bool // injectors it has switched off, by cylinder − 1
	speed   float64
	advance float64 // degrees before top dead centre

	idleBase float64 // m² that a warm healthy engine idles on
	idleSum  float64 // integrator, multiples of idleBase
	idleArea float64
	held     bool // throttle and spark frozen at idle

	airScale float64 // what the air meter says of the filling model
	fuelRate float64 // kg/s commanded, mean
	cycles   float64 // kg commanded since the last tick
	overrun  bool
	running  float64 // s since the engine started

	closedLoop bool
	trims      []trim
	monitor    misfireMonitor
	codes      codeStore
	ready      readiness
}

// trim is the fuel correction of one bank, as fractions.
type trim struct {
	short, long float64
	lean        bool
	beyond      float64 // s the sum has been beyond the code limit
}

func newComputer(c Config) *computer {
	litres := c.Build.swept() * float64(c.Layout.N()) * 1000
	k := &computer{
		cfg: c, cut: make([]bool, c.Layout.N()), airScale: 1, advance: 10,
		idleBase: 7.5 * mm2 * litres, idleSum: 1,
		trims: make([]trim, len(c.Layout.Banks())),
	}
	k.idleArea = k.idleBase
	k.monitor = newMonitor(c)
	k.codes = newCodeStore()
	return k
}

func (k *computer) warmStart(e *Engine) {
	k.speed, k.running = rad(e.cfg.IdleRPM), 100
	k.ready.warm()
}

// settled forgets what the pre-roll counted and, where asked, freezes the idle.
func (k *computer) settled() {
	k.monitor.forget()
	k.held = k.cfg.Computer.OpenLoopIdle
}

// tick runs the control loops that follow the clock.
func (k *computer) tick(e *Engine, dt float64) {
	k.speed += (e.omega - k.speed) * min(dt/0.05, 1)
	if e.cranking && float64(e.rpm()) > 450 {
		e.cranking = false
	}
	if e.omega > 45 && !e.cranking {
		k.running += dt
	} else {
		k.running = 0
	}
	k.fuelRate += (k.cycles/dt - k.fuelRate) * min(dt/0.5, 1)
	k.cycles = 0
	k.idle(e, dt)
	k.measureAir(e, dt)
	k.lambda(e, dt)
	k.ready.tick(k, e, dt)
}

// target is the idle speed wanted, higher when cold (common practice: about
// 1200 rpm at freezing).
func (k *computer) target(e *Engine) float64 {
	return rad(k.cfg.IdleRPM + engine.RPM(450*ramp(e.heat.coolantC, 70, 0)))
}

// idle sets throttle by-pass slowly and spark at once. Gains are judgement:
// a dead cylinder of four is made up by spark within half a second and by air
// within a few.
func (k *computer) idle(e *Engine, dt float64) {
	want := k.target(e)
	miss := (want - k.speed) / want
	atIdle := e.driver.pedal < 0.005
	k.overrun = atIdle && (k.overrun && k.speed > want*1.4 || k.speed > want*2.1)
	if k.held && atIdle {
		return
	}
	if atIdle && k.running > 0.5 && k.speed < want*1.5 {
		k.idleSum = clamp(k.idleSum+0.45*clamp(miss, -0.2, 0.3)*dt, 0.2, 4)
	}
	start := 0.5 * ramp(k.running, 3, 0)
	warmth := 0.5 * ramp(e.heat.coolantC, 80, 0)
	k.idleArea = k.idleBase * (k.idleSum + start + warmth + 1.2*clamp(miss, -0.2, 0.5)) * seaPa / e.ambient
	k.advance = k.sparkMap(e)
	if atIdle {
		k.advance = clamp(12+75*miss, 1, 26)
	}
}

// sparkMap is a plain ignition map: more with speed, less with load.
func (k *computer) sparkMap(e *Engine) float64 {
	load := e.manifold.pressure / seaPa
	krpm := k.speed * 30 / 3141.59265
	return clamp(12+9*clamp(krpm-0.8, 0, 2.2)+16*clamp(0.9-load, 0, 0.5)*ramp(krpm, 0.8, 1.4), 4, 42)
}

// modelAir is the filling in kg the computer expects at the manifold pressure.
func (k *computer) modelAir(e *Engine, c *cylinder) float64 {
	b := k.cfg.Build
	closed := c.geo.vol[b.IntakeValveCloses]
	return max(e.manifold.pressure*closed-e.ambient*b.clearance(), 0) / (gasR * e.chargeK())
}

// measureAir lets the air meter correct the model within a second.
func (k *computer) measureAir(e *Engine, dt float64) {
	if k.cfg.Computer.AirByMap || k.running < 1 {
		k.airScale = e.plant.meter
		return
	}
	model := k.modelAir(e, e.cylinders[0]) * float64(e.n) * e.omega / (4 * 3.14159265)
	if model > 1e-5 {
		seen := e.manifold.meter * e.plant.meter
		k.airScale = clamp(k.airScale+(seen/model-k.airScale)*dt/0.6, 0.3, 1.8)
	}
}

// wanted is the fuel in kg commanded for the next cycle of c.
func (k *computer) wanted(e *Engine, c *cylinder) float64 {
	if k.overrun || e.omega < 8 {
		return 0
	}
	t := k.trims[c.bank]
	rich := 1 + t.long
	if k.closedLoop {
		rich += t.short
	}
	rich *= k.enrichment(e)
	fuel := k.modelAir(e, c) * k.airScale / stoich * rich
	k.cycles += fuel
	return fuel
}

// enrichment is the open-loop mixture: rich when cold and at full throttle.
// Values are from memory.
func (k *computer) enrichment(e *Engine) float64 {
	out := 1.0
	if cold := ramp(e.heat.coolantC, 50, -20); cold > 0 {
		out += 0.35 * cold * ramp(k.running, 60, 5)
	}
	switch {
	case k.running == 0:
		out += 0.4 // cranking
	case k.running < 2:
		out += 0.15
	}
	if e.driver.pedal > 0.75 {
		out *= 1.12
	}
	return out
}

// lambda is the closed loop on a switching oxygen sensor for each bank. Ramp
// and jump are from memory; limits of ±25 % are trade practice.
func (k *computer) lambda(e *Engine, dt float64) {
	k.closedLoop = k.running > 15 && e.heat.coolantC > 40 && e.driver.pedal <= 0.75 && !k.overrun
	if !k.closedLoop {
		return
	}
	for b := range k.trims {
		t := &k.trims[b]
		lean := e.gas[b].sensed*(1-e.plant.oxygen[b]) > 1
		sign := -1.0
		if lean {
			sign = 1
		}
		if lean != t.lean {
			t.short += sign * 0.012
		}
		t.lean = lean
		t.short = clamp(t.short+sign*0.03*dt, -0.25, 0.25)
		t.long = clamp(t.long+t.short*dt/20, -0.25, 0.25)
		k.judgeTrim(e, b, dt)
	}
}

// judgeTrim sets lean and rich codes when the corrections stay beyond 22 %
// (from memory: about 20–25 %) for twenty seconds.
func (k *computer) judgeTrim(e *Engine, b int, dt float64) {
	t := &k.trims[b]
	sum := t.short + t.long
	if sum > -0.22 && sum < 0.22 {
		t.beyond = 0
		return
	}
	if t.beyond += dt; t.beyond > 20 {
		k.codes.see(e, mixtureCode(b, sum > 0))
	}
}

// silentCycles is how many cycles in a row a circuit must stay silent before
// the computer believes it (judgement: about a second of idle).
const silentCycles = 8

// endedCycle watches the circuits of a cylinder's coil and injector, which
// answer whether or not they spark and spray.
func (k *computer) endedCycle(e *Engine, c *cylinder) {
	if !e.ignition || e.omega < 20 {
		c.coilSilent, c.jetSilent = 0, 0
		return
	}
	coil := c.cond.unplugged || c.cond.coilOpen || c.cond.noTrigger || c.spark.Amps < 1.5
	if c.coilSilent = count(c.coilSilent, coil); c.coilSilent == silentCycles {
		k.codes.seeCylinder(e, coilFamily, c.no)
	}
	if c.jetSilent = count(c.jetSilent, c.cond.noFuel && !k.cut[c.no-1]); c.jetSilent == silentCycles {
		k.codes.seeCylinder(e, injectorFamily, c.no)
	}
}

func count(n int, silent bool) int {
	if !silent {
		return 0
	}
	return n + 1
}

// keyOn begins a driving cycle.
func (k *computer) keyOn() {
	k.running = 0
	k.monitor.passes = 0
	k.idleSum = max(k.idleSum, 0.8)
}

// clear answers a clear request: codes, counters, trims and readiness go.
func (k *computer) clear() {
	k.codes.clear()
	k.monitor.forget()
	k.ready = readiness{}
	for b := range k.trims {
		k.trims[b] = trim{}
	}
}
