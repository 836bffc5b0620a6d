package practice

// manifold is the plenum between throttle and intake valves.
type manifold struct {
	pressure float64 // Pa
	inflow   float64 // kg/s through throttle and leaks
	metered  float64 // kg/s through the throttle now
	passed   float64 // kg through the throttle since the last tick
	meter    float64 // kg/s smoothed: what an air meter can see
	drawn    float64 // kg drawn since the last update
	burnt    float64 // fraction of exhaust gas in the plenum
	vapour   float64 // kg of purge fuel for each kg of charge
}

// refreshFlows works out the flows into the plenum; called every few degrees.
func (e *Engine) refreshFlows() {
	m, p := &e.manifold, e.plant
	m.metered = orifice(e.throttleArea(), e.ambient, e.airK, m.pressure)
	leaked := orifice(p.plenumLeak, e.ambient, e.airK, m.pressure)
	for _, c := range e.cylinders {
		if c.cond.runnerLeak > 0 {
			leaked += 0.2 * orifice(c.cond.runnerLeak, e.ambient, e.airK, m.pressure)
		}
	}
	egr := orifice(p.egr, e.ambient, 600, m.pressure)
	purge := orifice(p.purge, e.ambient, e.airK, m.pressure)
	m.inflow = m.metered + leaked + egr + purge
	if m.inflow > 0 {
		m.burnt += 0.05 * (egr/m.inflow - m.burnt)
		m.vapour += 0.05 * (0.25*purge/m.inflow - m.vapour) // a quarter of the purge gas is fuel (judgement)
	}
}

// fill moves the plenum pressure by dt: the filling delay.
func (e *Engine) fill(dt float64) {
	m := &e.manifold
	m.pressure += gasR * e.chargeK() / e.cfg.Build.ManifoldM3 * (m.inflow*dt - m.drawn)
	m.drawn = 0
	m.passed += m.metered * dt
	m.pressure = clamp(m.pressure, 5e3, e.ambient)
}

// readMeter smooths the air flow over a tenth of a second.
func (m *manifold) readMeter(dt float64) {
	m.meter += (m.passed/dt - m.meter) * min(dt/0.1, 1)
	m.passed = 0
}

// throttleArea is the open area in m² of throttle and idle air together.
func (e *Engine) throttleArea() float64 {
	pedal := e.driver.pedal
	return e.computer.idleArea + pedal*pedal*6e-4*float64(e.n) // 6 cm² a cylinder wide open (judgement)
}
