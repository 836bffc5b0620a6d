package practice

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
)

// This file is what a technician reads by hand, with the engine off unless
// said otherwise. Readings carry the usual small errors of their instruments.

// Tester is the drilled orifice of a leak-down tester.
type Tester struct{ OrificeM, SupplyPa float64 }

// AircraftTester is the published one for bores below five inches: 0.040 in,
// 80 psi (FAA AC 43.13-1B, 8-14).
var AircraftTester = Tester{OrificeM: 0.040 * 0.0254, SupplyPa: 80 * 6894.757}

// LossPercent is what the tester reads with a leak of area m² to air at
// ambient Pa: the pressure at which as much flows in through the orifice as
// out through the leak (isentropic, equal discharge coefficients).
func (t Tester) LossPercent(area, ambient float64) float64 {
	master := math.Pi / 4 * t.OrificeM * t.OrificeM
	lo, hi := 0.0, t.SupplyPa
	for range 60 {
		gauge := (lo + hi) / 2
		if isentropic(master, t.SupplyPa+ambient, gauge+ambient) > isentropic(area, gauge+ambient, ambient) {
			lo = gauge
		} else {
			hi = gauge
		}
	}
	return 100 * (1 - lo/t.SupplyPa)
}

// isentropic is the flow through an orifice relative to √(RT), exactly.
func isentropic(area, p0, p float64) float64 {
	const g = 1.4
	pr := max(p/p0, math.Pow(2/(g+1), g/(g-1)))
	if pr >= 1 {
		return 0
	}
	return area * p0 * math.Sqrt(2*g/(g-1)*(math.Pow(pr, 2/g)-math.Pow(pr, (g+1)/g)))
}

// heardAt is where the air of a leak is heard.
var heardAt = [leakPaths]string{"exhaust", "intake", "oil filler", "coolant neck", "next cylinder"}

// LeakDown is the reading of an AircraftTester at top dead centre and where the
// air is heard.
func (e *Engine) LeakDown(c engine.Cylinder) (percent float64, heard string, err error) {
	if err := e.bench(c); err != nil {
		return 0, "", err
	}
	cond := e.conditionOf(c)
	var area, most float64
	for path, leak := range cond.leaks {
		area += leak
		if leak > most {
			most, heard = leak, heardAt[path]
		}
	}
	if percent = AircraftTester.LossPercent(area, e.ambient); percent < 10 {
		heard = "nowhere clearly"
	}
	return clamp(percent+0.5*e.shelf.rolls.normal(), 0, 100), heard, nil
}

func (e *Engine) bench(c engine.Cylinder) error {
	if err := e.cfg.Layout.Check(c); err != nil {
		return err
	}
	return e.engineOff()
}

// Plug is what a plug shows when it is out.
type Plug struct {
	GapMM float64
	Look  string // "normal", "cracked", "fouled", "wet with fuel", "sooty", "white", "washed clean by coolant", "oily"
}

// ReadPlug takes the plug of c out and looks at it.
func (e *Engine) ReadPlug(c engine.Cylinder) (Plug, error) {
	if err := e.bench(c); err != nil {
		return Plug{}, err
	}
	cond, last := e.conditionOf(c), e.byNumber[c-1]
	p := Plug{GapMM: round(cond.gapMM+0.01*e.shelf.rolls.normal(), 0.05), Look: "normal"}
	switch burnt := last.burnt; {
	case cond.erratic > 0:
		p.Look = "cracked"
	case cond.shunt > 0.3:
		p.Look = "fouled"
	case cond.coolant > 0.05 || cond.leaks[toCoolant] > 0:
		p.Look = "washed clean by coolant"
	case cond.leaks[toCrankcase] > 2*mm2:
		p.Look = "oily"
	case burnt.Misfire && burnt.Lambda > 0 && burnt.Lambda < 2:
		p.Look = "wet with fuel"
	case burnt.Lambda > 0 && burnt.Lambda < 0.8:
		p.Look = "sooty"
	case burnt.Lambda > 1.2:
		p.Look = "white"
	}
	return p, nil
}

// ReadBoot looks at the boot or lead of c: "sound" or "tracked".
func (e *Engine) ReadBoot(c engine.Cylinder) (string, error) {
	if err := e.bench(c); err != nil {
		return "", err
	}
	if e.conditionOf(c).flashKV < 38 {
		return "tracked", nil
	}
	return "sound", nil
}

// CoilOhms is the primary resistance of the coil of c at its connector's
// pins, infinite when open: wiring and feed are not in it.
func (e *Engine) CoilOhms(c engine.Cylinder) (float64, error) {
	if err := e.bench(c); err != nil {
		return 0, err
	}
	ohms := coilOhms * copper(e.heat.coilC)
	for _, f := range e.shelf.at(AtCoil, c).faultsIn(e) {
		switch s := f.now(e); {
		case f.Kind == "coil-open" && s > 0:
			return math.Inf(1), nil
		case f.Kind == "coil-shorted":
			ohms *= 1 - 0.35*s
		}
	}
	return round(ohms*(1+0.02*e.shelf.rolls.normal()), 0.01), nil
}

func (p *Part) faultsIn(e *Engine) (out []*liveFault) {
	for _, f := range e.faults {
		if f.part == p {
			out = append(out, f)
		}
	}
	return out
}

// FeedVolts is the supply at the coil connector of c under coil current.
func (e *Engine) FeedVolts(c engine.Cylinder) (float64, error) {
	if err := e.bench(c); err != nil {
		return 0, err
	}
	cond := e.conditionOf(c)
	extra := cond.ohms - coilOhms*copper(e.heat.coilC)
	if cond.coilOpen {
		if ohms, err := e.CoilOhms(c); err != nil || !math.IsInf(ohms, 1) {
			return 0, err // the wire is open, not the coil
		}
	}
	return round(12.5-max(extra, 0)*min(coilLimitA, 12.5/cond.ohms), 0.1), nil
}

// SparkTest cranks with a spark tester of that many kV right at the coil of c, where a
// boot that leaks does not matter, and says whether it jumps.
func (e *Engine) SparkTest(c engine.Cylinder, kv float64) (bool, error) {
	if err := e.bench(c); err != nil {
		return false, err
	}
	cond := e.conditionOf(c)
	if cond.noTrigger || cond.coilOpen || cond.unplugged {
		return false, nil
	}
	volts := 11.5 - driverDropV
	amps := min(CoilCurrent(volts, cond.ohms, cond.henry, dwellSeconds(11.5)*cond.dwell), coilLimitA)
	spare := math.Sqrt(2*CoilEnergy(cond.henry, amps)*coilEfficacy*cond.energy/secondaryF) / 1000
	return kv < spare, nil
}

// InjectorOhms is the resistance of the injector of c; 11–16 Ω is healthy
// (trade practice).
func (e *Engine) InjectorOhms(c engine.Cylinder) (float64, error) {
	if err := e.bench(c); err != nil {
		return 0, err
	}
	for _, f := range e.shelf.at(AtInjector, c).faultsIn(e) {
		if f.Kind == "injector-dead" && f.now(e) >= 0.5 {
			return math.Inf(1), nil
		}
	}
	return round(13*(1+0.02*e.shelf.rolls.normal()), 0.1), nil
}

// InjectorPulse says whether a pulse lamp on the injector plug of c flashes
// while cranking.
func (e *Engine) InjectorPulse(c engine.Cylinder) (bool, error) {
	if err := e.bench(c); err != nil {
		return false, err
	}
	for _, f := range e.faults {
		if f.Kind == "injector-wiring" && f.Cylinder == c && f.now(e) >= 0.5 {
			return false, nil
		}
	}
	return !e.computer.cut[c-1], nil
}

// looseAnswers is how often a bad contact answers when its wires are moved. Judgement.
const looseAnswers = 0.8

// Wiggle moves the wires of coil and injector of c while the engine runs and says
// whether the way it runs changes with that.
func (e *Engine) Wiggle(c engine.Cylinder) (bool, error) {
	if err := e.cfg.Layout.Check(c); err != nil {
		return false, err
	}
	if !e.State().Running {
		return false, fmt.Errorf("the engine stands: start it first")
	}
	loose := func(f *liveFault) bool {
		return (f.Kind == "coil-wiring" || f.Kind == "injector-wiring") && f.Cylinder == c
	}
	return slices.ContainsFunc(e.faults, loose) && e.shelf.rolls.unit() < looseAnswers, nil
}

// InjectorBalance is the fall of rail pressure in kPa for each injector pulsed
// alike; healthy ones lie within 10 kPa of their mean (maker's text).
func (e *Engine) InjectorBalance() ([]float64, error) {
	if err := e.engineOff(); err != nil {
		return nil, err
	}
	var out []float64
	for _, c := range e.cfg.Layout.Cylinders() {
		cond := e.conditionOf(c)
		flow := cond.flow
		if cond.noFuel {
			flow = 0
		}
		out = append(out, round(80*flow+1.5*e.shelf.rolls.normal(), 1))
	}
	return out, nil
}

// FuelPressure is the rail pressure in kPa with the pump running, and after
// five minutes of rest. Healthy 350 kPa, above 250 after rest (trade practice).
func (e *Engine) FuelPressure() (running, rest float64, err error) {
	if err := e.engineOff(); err != nil {
		return 0, 0, err
	}
	running = 350 * e.plant.pressure
	rest = 0.86 * running
	for _, c := range e.cfg.Layout.Cylinders() {
		rest *= 1 - 0.85*min(e.conditionOf(c).dripKgS/0.02e-3, 1)
	}
	return round(running+2*e.shelf.rolls.normal(), 1), round(max(rest, 0), 1), nil
}

// FuelVolume is what the pump delivers through the return in g/s; 25 and more
// is healthy for a passenger car (judgement).
func (e *Engine) FuelVolume() (float64, error) {
	if err := e.engineOff(); err != nil {
		return 0, err
	}
	return round(min(30, 1000*e.plant.supplyKgS*2.2), 0.1), nil
}

// FuelSample is what a sample of the fuel looks like.
func (e *Engine) FuelSample() string {
	if e.plant.heat < 0.95 {
		return "cloudy, with a layer at the bottom"
	}
	return "clear, one layer"
}

// CrankSignal is how far the crank signal's marks lie from where the computer has learnt
// them, in crank degrees: a tenth or two on a sound engine.
func (e *Engine) CrankSignal() engine.CrankDeg {
	return engine.CrankDeg(math.Abs(e.plant.wheelDeg + 0.1*e.shelf.rolls.normal()))
}

// SmokeTest blows smoke into the intake and says where it comes out.
func (e *Engine) SmokeTest() ([]string, error) {
	if err := e.engineOff(); err != nil {
		return nil, err
	}
	var out []string
	if e.plant.plenumLeak > 0.3*mm2 {
		out = append(out, "plenum hose")
	}
	for _, c := range e.cfg.Layout.Cylinders() {
		if e.conditionOf(c).runnerLeak > 0.3*mm2 {
			out = append(out, fmt.Sprintf("runner gasket of cylinder %d", c))
		}
	}
	return out, nil
}

// BackPressure is the exhaust pressure in kPa before the catalyst of a bank
// (from 1) now, engine running.
func (e *Engine) BackPressure(bank int) (float64, error) {
	if bank < 1 || bank > len(e.exhaustPa) {
		return 0, fmt.Errorf("bank %d does not exist, this engine has %d", bank, len(e.exhaustPa))
	}
	return round((e.exhaustPa[bank-1]-e.ambient)/1000, 0.1), nil
}

// CamLate is how late the cam of a bank (from 1) stands, in crank degrees.
func (e *Engine) CamLate(bank int) (float64, error) {
	if bank < 1 || bank > len(e.plant.camLate) {
		return 0, fmt.Errorf("bank %d does not exist, this engine has %d", bank, len(e.plant.camLate))
	}
	return round(e.plant.camLate[bank-1]+0.5*e.shelf.rolls.normal(), 1), nil
}

// ValveOff pinches off the hoses of exhaust recirculation or purge ("egr",
// "purge") and says whether the valve let gas through.
func (e *Engine) ValveOff(which string) (bool, error) {
	switch which {
	case "egr":
		return e.plant.egr > 0.5*mm2, nil
	case "purge":
		return e.plant.purge > 0.3*mm2, nil
	}
	return false, fmt.Errorf("valve %q is unknown, expected egr or purge", which)
}

// CoolantPressure says whether pressure in the cooling system falls overnight.
func (e *Engine) CoolantPressure() (falls bool, err error) {
	if err := e.engineOff(); err != nil {
		return false, err
	}
	for _, c := range e.cfg.Layout.Cylinders() {
		if e.conditionOf(c).leaks[toCoolant] > 0.3*mm2 {
			return true, nil
		}
	}
	return false, nil
}

// IntakeValveLook is what a borescope shows in the intake port of c.
func (e *Engine) IntakeValveLook(c engine.Cylinder) (string, error) {
	if err := e.bench(c); err != nil {
		return "", err
	}
	for _, f := range e.faults {
		if f.Kind == "valve-carbon" && f.Cylinder == c {
			return "thick carbon", nil
		}
	}
	return "light deposits", nil
}

// Attach changes the sensors; recording begins anew now.
func (e *Engine) Attach(want Sensors) error {
	if err := want.check(e.cfg); err != nil {
		return err
	}
	e.sensors = newSensors(e, want)
	return nil
}
