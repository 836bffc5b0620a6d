package practice

import "math"

// Coil of a modern coil-on-plug unit. 0.5 Ω and 3 mH: illustrative values;
// 6–8 A peak current: trade practice; secondary load and
// efficiency: judgement, chosen for a reserve of 35–40 kV (trade practice).
const (
	coilOhms     = 0.5
	coilHenry    = 3e-3
	coilLimitA   = 7.5
	coilEfficacy = 0.5
	secondaryF   = 60e-12
	driverDropV  = 0.8
	burnPowerW   = 25.0 // gives 1.5 ms of burn from 40 mJ
	edgeKV       = 1.3
	wasteKV      = 1.5 // the idle plug of a wasted-spark pair
)

// CoilCurrent is the current in A of a coil of resistance ohms and inductance
// henry after the supply volts have been on for seconds: V/R·(1 − e^(−tR/L)).
func CoilCurrent(volts, ohms, henry, seconds float64) float64 {
	return volts / ohms * -math.Expm1(-seconds*ohms/henry)
}

// CoilEnergy is ½LI² in joules.
func CoilEnergy(henry, amps float64) float64 { return henry * amps * amps / 2 }

// dwellSeconds is what the computer commands: the time a healthy warm coil
// needs to reach its limit at this supply, and a tenth more.
func dwellSeconds(volts float64) float64 {
	const ohms = coilOhms * 1.2
	reach := ohms * coilLimitA / max(volts-driverDropV, 1)
	if reach > 0.9 {
		return 6e-3
	}
	return min(-1.1*coilHenry/ohms*math.Log(1-reach), 6e-3)
}

// BreakdownKV is the voltage in kV that jumps a gap in mm at a pressure in Pa
// and a temperature in K. Published: uniform-field air gap,
// 24.22·δd + 6.08·√(δd), d in cm, δ the air density relative to 20 °C and one
// atmosphere (from memory). Only its trend is trusted; edgeKV lifts it to the
// 8–15 kV at idle and 15–25 kV under load of trade practice.
func BreakdownKV(gapMM, pa, kelvin float64) float64 {
	x := gapMM / 10 * pa / seaPa * 293 / kelvin
	return edgeKV * (24.22*x + 6.08*math.Sqrt(x))
}

// Spark is what happened at one plug.
type Spark struct {
	Amps     float64 // primary current at the end of dwell
	DwellSec float64
	DemandKV float64 // voltage the gap asked for
	SpareKV  float64 // voltage the coil could give, at the plug
	BurnSec  float64 // 0: no spark in the gap
	ohms     float64
	henry    float64
}

// strike works out the spark of a cylinder at pressure pa and temperature k.
func (e *Engine) strike(c *cylinder, pa, k float64) Spark {
	cond := &c.cond
	s := Spark{DwellSec: dwellSeconds(e.volts) * cond.dwell, ohms: cond.ohms, henry: cond.henry}
	scatter, stray := 1+0.06*c.rolls.normal(), c.rolls.unit()
	s.DemandKV = BreakdownKV(cond.gapMM, pa, k) * scatter
	if e.cfg.Ignition == WastedSpark {
		s.DemandKV += wasteKV
	}
	if cond.noTrigger || cond.coilOpen || cond.unplugged || !e.ignition {
		s.DwellSec = 0
		return s
	}
	s.Amps = min(CoilCurrent(e.volts-driverDropV, cond.ohms, cond.henry, s.DwellSec), coilLimitA)
	energy := CoilEnergy(cond.henry, s.Amps) * coilEfficacy * cond.energy
	s.SpareKV = math.Sqrt(2*energy/secondaryF) / 1000 * (1 - cond.shunt)
	flash := cond.flashKV
	if e.wet {
		flash *= 0.7 // judgement: water halves to two-thirds the creepage strength
	}
	if s.DemandKV > min(s.SpareKV, flash) || stray < 0.6*cond.erratic {
		return s
	}
	left := energy - secondaryF*s.DemandKV*s.DemandKV*1e6/2
	s.BurnSec = max(left, 0) / burnPowerW
	return s
}
