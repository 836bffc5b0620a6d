package practice

import "math"

// injectorKgS is the static flow of an injector at full pressure, for a half
// litre cylinder: 3.2 g/s feeds full load at 6000 rpm in 15 ms (derived).
const injectorKgS = 3.2e-3

// deadSeconds is the opening delay of an injector by supply voltage, from
// memory: about 1 ms at 14 V and 2 ms at 9 V.
func deadSeconds(volts float64) float64 { return 1e-3 * math.Pow(14/max(volts, 5), 1.5) }

func (e *Engine) injectorFlow() float64 { return injectorKgS * e.swept / 0.5e-3 }

// inject gives the fuel in kg that reaches the cylinder this cycle.
func (e *Engine) inject(c *cylinder) float64 {
	cond := &c.cond
	period := min(120/max(float64(e.rpm()), 60), 1)
	fuel := cond.dripKgS * period
	wanted := e.computer.wanted(e, c)
	if e.ignition && !e.noFuel && !cond.noFuel && wanted > 0 {
		pulse := wanted/e.injectorFlow() + deadSeconds(e.volts)
		flow := e.injectorFlow() * cond.flow * math.Sqrt(e.plant.pressure)
		fuel += flow * max(pulse-deadSeconds(e.volts), 0)
	}
	if most := e.plant.supplyKgS * period / float64(e.n); fuel > most {
		fuel = most
	}
	e.fuelUsed += fuel
	return fuel * (1 - cond.swallow)
}
