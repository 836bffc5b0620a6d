package practice

import (
	"fmt"
	"math"
	"strings"

	"halforder/engine"
)

const degree = math.Pi / 180

// Engine is a running practice engine. It is not safe for several goroutines;
// [Live] is.
type Engine struct {
	cfg    Config
	n      int
	litres float64
	swept  float64 // m³ of one cylinder

	now   float64 // s since the beginning of the recording; negative while settling
	angle int     // whole degrees after firing top dead centre of the first cylinder
	omega float64 // rad/s
	dt    float64 // s of the last degree

	inertia   []float64
	cylinders []*cylinder // in firing order
	byNumber  []*cylinder
	manifold  manifold
	exhaustPa []float64
	ambient   float64 // Pa
	airK      float64
	wet       bool

	torque   float64 // gas torque of the last degree, N·m
	alpha    float64 // angular acceleration, rad/s²
	drag     float64
	load     float64 // brake torque asked for, N·m
	starterA float64
	volts    float64
	cranking bool
	crankEnd float64
	noFuel   bool // cranking with fuel off
	ignition bool // key on

	accessoryW float64
	shelf      *shelf
	faults     []*liveFault
	unplugged  []unplugged
	plant      plant

	driver   driver
	heat     heat
	computer *computer
	catalyst []catalyst
	gas      []exhaustGas
	sensors  *sensors
	truth    *Truth
	nextSlow int
	nextTick float64
	lastTick float64
	fuelUsed float64 // kg
	books    Energy
}

type unplugged struct{ coil, injector bool }

// New builds the engine. With cfg.Running it is warm, idling and settled; time
// begins at 0 afterwards.
func New(cfg Config, want Sensors) (*Engine, error) {
	if err := cfg.Check(); err != nil {
		return nil, err
	}
	if err := want.check(cfg); err != nil {
		return nil, err
	}
	e, err := build(cfg, want)
	if err != nil || cfg.Layout.Even() {
		return e, err
	}
	return e, e.learn()
}

func build(cfg Config, want Sensors) (*Engine, error) {
	e := &Engine{cfg: cfg, n: cfg.Layout.N(), swept: cfg.Build.swept(), ignition: cfg.Running}
	e.litres = e.swept * float64(e.n) * 1000
	e.ambient, e.airK, e.wet = Pressure(cfg.Air.AltitudeM), cfg.Air.TempC+zeroC, cfg.Air.Wet
	e.shelf = newShelf(cfg)
	e.unplugged = make([]unplugged, e.n)
	e.computer = newComputer(cfg)
	e.heat = newHeat(cfg)
	e.truth = &Truth{}
	e.sensors = &sensors{}
	e.assemble()
	for _, f := range cfg.Faults {
		e.addFault(f)
	}
	e.plant = e.plantNow()
	if cfg.Running {
		e.settle()
	}
	if e.omega == 0 && cfg.Running {
		return nil, fmt.Errorf("practice: with %s the engine stalls before it settles: begin with the engine off, or with a milder fault", faultNames(cfg.Faults))
	}
	e.sensors = newSensors(e, want)
	return e, nil
}

func faultNames(faults []Fault) string {
	var names []string
	for _, f := range faults {
		names = append(names, f.String())
	}
	if len(names) == 0 {
		return "no fault"
	}
	return strings.Join(names, " and ")
}

func (e *Engine) addFault(f Fault) {
	kind, _ := kindOf(f.Kind)
	live := &liveFault{Fault: f, kind: kind, rolls: newDice(e.cfg.Seed, "fault "+f.String())}
	switch kind.Site {
	case AtCoil, AtPlug, AtBoot, AtInjector:
		live.part = e.shelf.at(kind.Site, f.Cylinder)
	}
	e.faults = append(e.faults, live)
}

// assemble makes cylinders, tables and banks.
func (e *Engine) assemble() {
	offsets := make([]float64, e.n)
	e.byNumber = make([]*cylinder, e.n)
	shared := map[float64]*slider{}
	for k := range e.n {
		no := e.cfg.Layout.At(k)
		at := float64(e.cfg.Layout.Angle(no))
		offsets[k] = at
		whole := math.Ceil(at)
		if shared[whole-at] == nil {
			shared[whole-at] = newSlider(e.cfg.Build, whole-at)
		}
		c := e.newCylinder(no, shared[whole-at])
		c.j = (2*cycle - int(whole)) % cycle
		e.cylinders, e.byNumber[no-1] = append(e.cylinders, c), c
	}
	e.inertia = inertiaTable(e.cfg.Build, offsets)
	banks := len(e.cfg.Layout.Banks())
	e.exhaustPa = make([]float64, banks)
	e.catalyst, e.gas = make([]catalyst, banks), make([]exhaustGas, banks)
	for b := range banks {
		e.exhaustPa[b] = e.ambient
		e.catalyst[b] = newCatalyst(e)
		e.gas[b] = newExhaustGas()
	}
	e.manifold.pressure = e.ambient
	for _, c := range e.cylinders {
		e.park(c)
	}
}

func (e *Engine) newCylinder(no engine.Cylinder, geo *slider) *cylinder {
	rolls := newDice(e.cfg.Seed, "cylinder "+string(rune('0'+no)))
	return &cylinder{
		no: no, bank: e.cfg.Layout.Bank(no), geo: geo, rolls: rolls,
		filled:     1 + e.cfg.Spread.CylinderAir*rolls.normal(),
		evo:        e.cfg.Build.ExhaustValveOpens,
		ivc:        e.cfg.Build.IntakeValveCloses,
		sparkAt:    cycle - 10,
		sincespark: noBurn, chargeK: e.airK, invLen: 1,
	}
}

// park puts a cylinder at rest: filled with air, valves where the cam has them.
func (e *Engine) park(c *cylinder) {
	c.p = e.ambient
	c.k = c.p * c.geo.vn[c.j]
	c.air = c.p * c.geo.vol[c.j] / (gasR * e.airK)
	c.fuel, c.residual, c.heat, c.sincespark = 0, 0, 0, noBurn
	c.cond = e.healthy(c.no)
	switch {
	case c.j >= cycle/2 && c.j < c.ivc:
		c.stage, c.event = closing, c.ivc
	case c.j >= c.ivc && c.j < c.sparkAt:
		c.stage, c.event = charged, c.sparkAt
	case c.j < c.evo || c.j >= c.sparkAt:
		c.stage, c.event = expanded, c.evo
	default:
		c.stage, c.event = emptied, cycle/2
	}
}

// settle runs the warm engine to a steady idle before time 0. A computer that
// has lived with the fault has learnt how much air the idle needs: settle tries
// more when the engine stalls.
func (e *Engine) settle() {
	for _, air := range []float64{1, 1.4, 1.9, 2.5} {
		e.computer = newComputer(e.cfg)
		e.computer.idleSum = air
		if e.preRoll(); e.omega > 0 {
			break
		}
	}
	e.truth = &Truth{}
	e.computer.settled()
	e.books = Energy{}
}

func (e *Engine) preRoll() {
	const seconds = 12.0
	e.now, e.nextTick, e.lastTick = -seconds, -seconds, -seconds-0.01
	e.computer.warmStart(e)
	e.omega = 1.6 * e.computer.target(e) // the first cycles have no fuel yet
	e.manifold.pressure = 0.4 * e.ambient
	for e.now < 0 && e.omega > 0 {
		e.step()
	}
}

// rad is rad/s of a speed.
func rad(n engine.RPM) float64 { return float64(n) * math.Pi / 30 }

func (e *Engine) rpm() engine.RPM { return engine.RPM(e.omega * 30 / math.Pi) }

// step turns the engine by one degree, or lets a moment pass while it stands.
func (e *Engine) step() {
	if e.omega <= 0 && !e.cranking {
		e.rest(2e-3)
		return
	}
	was := e.omega
	guess := 2e-3
	if was > 0 {
		guess = degree / was
	}
	var work float64
	for _, c := range e.cylinders {
		work += e.turn(c, guess)
	}
	brakes := e.brakes()
	outer := (e.starterTorque() - e.drag - brakes) * degree
	next := e.angle + 1
	j0, j1 := e.inertia[e.angle], e.inertia[next]
	square := (j0*was*was + 2*(work+outer)) / j1
	if e.omega = math.Sqrt(max(square, 0)); square < 1 {
		e.stuck()
	}
	e.dt = 2 * degree / max(was+e.omega, 0.5)
	e.alpha = (e.omega - was) / e.dt
	e.torque = work / degree
	e.book(work, outer)
	e.roll(brakes-e.load, e.dt)
	e.fill(e.dt)
	e.computer.monitor.turn(e)
	e.sensors.step(e, was)
	e.now += e.dt
	if e.angle = next; next == cycle {
		e.angle = 0
	}
	e.slowly()
}

// stuck holds the crank when torque no longer turns it: the starter creeps on,
// without it the engine has stalled.
func (e *Engine) stuck() {
	if e.cranking {
		e.omega = 1
		return
	}
	e.omega = 0
	e.truth.event(e, "stalled")
}

// rest lets time pass without motion.
func (e *Engine) rest(dt float64) {
	e.omega, e.alpha, e.torque, e.starterA = 0, 0, 0, 0
	e.dt = dt
	e.manifold.pressure += (e.ambient - e.manifold.pressure) * min(dt/0.5, 1)
	for _, c := range e.cylinders {
		c.p += (e.ambient - c.p) * min(dt/0.3, 1)
		c.k = c.p * c.geo.vn[c.j]
		c.flow, c.suck, c.kick = 0, 0, 0
	}
	e.sensors.step(e, 0)
	e.now += dt
	e.tick()
}

// slowly does every six degrees what need not be done every degree.
func (e *Engine) slowly() {
	if e.nextSlow--; e.nextSlow > 0 {
		return
	}
	e.nextSlow = 6
	e.refreshFlows()
	e.refreshDrag()
	for b := range e.exhaustPa {
		e.exhaustPa[b] = e.ambient + e.backPressure(b)
	}
	e.tick()
}

// tick does every ten milliseconds what follows the clock.
func (e *Engine) tick() {
	if e.now < e.nextTick {
		return
	}
	const every = 0.01
	e.nextTick = math.Floor(e.now/every+1) * every
	e.manifold.readMeter(e.now - e.lastTick)
	e.lastTick = e.now
	if e.cranking && e.now > e.crankEnd {
		e.cranking = false
	}
	e.plant = e.plantNow()
	e.supply(every)
	e.driver.drive(e, every)
	e.computer.tick(e, every)
	e.heat.tick(e, every)
	for b := range e.catalyst {
		e.catalyst[b].tick(e, every)
		e.gas[b].tick(every)
	}
	e.sensors.tick(e)
}

// supply is the board voltage: battery while cranking, generator afterwards.
func (e *Engine) supply(dt float64) {
	want := 12.6 - 0.009*e.starterA*2/max(e.litres, 1)
	if !e.cranking && e.omega > 50 {
		want = 14.1
	}
	e.volts += (want - e.volts) * min(dt/0.05, 1)
}

// backPressure in Pa above the air's rises with the square of the flow. 30 kPa
// at 30 g/s a cylinder is judgement.
func (e *Engine) backPressure(bank int) float64 {
	share := e.manifold.inflow / float64(e.n) / 0.030
	return min(30e3*share*share*e.plant.block[bank], 250e3)
}
