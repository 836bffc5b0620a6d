package practice

// heat is the warm-up of engine and bay.
type heat struct {
	coolantC, coilC float64
	soaked          float64 // coolant in the chambers after a cold night, 0…1
}

func newHeat(c Config) heat {
	h := heat{coolantC: c.CoolantC, coilC: bayC(c.CoolantC, c.Air.TempC)}
	if !c.Running && c.CoolantC < 50 {
		h.soaked = 1
	}
	return h
}

// tick warms the engine: two fifths of the fuel heat go to 18 kJ/K a litre
// until the thermostat holds 90 °C, which takes about ten minutes of idle from
// 20 °C (common practice, no source).
func (h *heat) tick(e *Engine, dt float64) {
	store := 18e3 * e.litres
	in := 0.4 * e.fuelRate() * petrolJ
	air := e.airK - zeroC
	out := 9 * e.litres * (h.coolantC - air)
	if h.coolantC > 86 {
		out += 2500 * e.litres * (h.coolantC - 86) / 4
	}
	h.coolantC += (in - out) / store * dt
	h.coilC += (bayC(h.coolantC, air) - h.coilC) * dt / 300
	if e.omega > 20 {
		h.soaked *= 1 - dt/40 // burns off in about a minute (judgement)
	}
}

// bayC is where the coils' temperature settles (judgement).
func bayC(coolantC, airC float64) float64 { return 0.8*coolantC + 0.2*airC }

// fuelRate is the mean fuel flow in kg/s.
func (e *Engine) fuelRate() float64 { return e.computer.fuelRate }
