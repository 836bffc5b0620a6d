package practice

// Readiness says which self-tests have finished since the codes were cleared.
type Readiness struct {
	Misfire      bool `json:"misfire"`
	FuelSystem   bool `json:"fuel_system"`
	Components   bool `json:"components"`
	Catalyst     bool `json:"catalyst"`
	OxygenSensor bool `json:"oxygen_sensor"`
	Evap         bool `json:"evaporation"`
}

// readiness counts the time each self-test still needs. The times are from
// memory; makers differ widely.
type readiness struct{ misfire, fuel, parts, catalyst, oxygen, evap float64 }

func (r *readiness) warm() { *r = readiness{1e3, 1e3, 1e3, 1e3, 1e3, 1e3} }

func (r *readiness) tick(k *computer, e *Engine, dt float64) {
	if k.running <= 0 {
		return
	}
	r.parts += dt
	r.misfire += dt
	if e.heat.coolantC > 71 { // warm-up cycle: at least 160 °F (makers' texts)
		k.codes.warm = true
	}
	if !k.closedLoop {
		return
	}
	r.fuel += dt
	r.oxygen += dt
	if e.omega > 150 {
		r.catalyst += dt
	}
	if e.heat.coolantC > 70 && k.running > 600 {
		r.evap += dt
	}
}

func (r *readiness) report() Readiness {
	return Readiness{
		Misfire: r.misfire > 30, FuelSystem: r.fuel > 60, Components: r.parts > 10,
		Catalyst: r.catalyst > 120, OxygenSensor: r.oxygen > 120, Evap: r.evap > 60,
	}
}
