package practice

// exhaustGas is the gas of one bank on its way to the oxygen sensor.
type exhaustGas struct {
	now    mole
	mixed  mole // after mixing in the pipe
	line   []mole
	at     int
	sensed float64 // lambda the oxygen sensor sees: oxygen left over against fuel that burnt
}

// mole holds amounts of substance of exhaust in mol, water left out (gas
// analysers dry their sample).
type mole struct {
	carbonDioxide, carbonMonoxide, oxygen, nitrogen, fuel float64 // fuel as CH₁.₈₅
	airKg, burntKg                                        float64
}

const (
	fuelMol   = 13.876e-3 // kg/mol of CH₁.₈₅
	oxygenPer = 1.4625    // mol O₂ to burn one CH₁.₈₅: 1 + 1.85/4
	airMol    = 28.96e-3
	gasDelay  = 20 // ticks of 10 ms to the sensor (judgement)
)

func newExhaustGas() exhaustGas { return exhaustGas{sensed: 1, line: make([]mole, gasDelay)} }

// add lets one cylinder's charge into the pipe.
func (g *exhaustGas) add(c *cylinder) {
	carbon, oxygen := c.fuel/fuelMol, 0.2095*c.air/airMol
	g.now.nitrogen += 0.7905 * c.air / airMol
	g.now.airKg += c.air
	if c.heat <= 0 {
		g.now.fuel += carbon
		g.now.oxygen += oxygen
		return
	}
	g.now.burntKg += c.fuel
	const slip = 0.012 // fuel that escapes the flame in crevices (judgement: ~1500 ppm before the catalyst)
	g.now.fuel += slip * carbon
	carbon *= 1 - slip
	need := oxygenPer * carbon
	short := max(need-oxygen, 0)
	// A rich flame trades oxygen for CO and hydrogen, about 7 : 3 (water gas, from memory).
	monoxide := min(2*short*0.7, carbon) + 0.004*carbon
	g.now.carbonMonoxide += monoxide
	g.now.carbonDioxide += carbon - monoxide
	g.now.oxygen += max(oxygen-need, 0) + 0.002*carbon
}

// tick mixes what arrived with a time constant of 0.15 s and passes it on.
func (g *exhaustGas) tick(dt float64) {
	a := min(dt/0.15, 1)
	g.mixed.scale(1 - a)
	g.mixed.plus(g.now)
	g.now = mole{}
	out := g.line[g.at]
	g.line[g.at] = g.mixed
	g.at = (g.at + 1) % len(g.line)
	if out.burntKg > 1e-9 {
		g.sensed = clamp(out.airKg/(stoich*out.burntKg), 0.5, 3)
	} else if out.airKg > 1e-9 {
		g.sensed = 3
	}
}

func (m *mole) scale(f float64) {
	m.carbonDioxide *= f
	m.carbonMonoxide *= f
	m.oxygen *= f
	m.nitrogen *= f
	m.fuel *= f
	m.airKg *= f
	m.burntKg *= f
}

func (m *mole) plus(o mole) {
	m.carbonDioxide += o.carbonDioxide
	m.carbonMonoxide += o.carbonMonoxide
	m.oxygen += o.oxygen
	m.nitrogen += o.nitrogen
	m.fuel += o.fuel
	m.airKg += o.airKg
	m.burntKg += o.burntKg
}

// Gas is an exhaust gas reading, dry.
type Gas struct {
	T           float64 // s
	CO2, CO, O2 float64 // per cent by volume
	HCppm       float64 // as hexane
}

// read is the gas of one bank; behind a catalyst of this conversion the fuel
// and CO burn with the oxygen that is there.
func (m mole) read(conversion float64) Gas {
	burnable := m.carbonMonoxide/2 + m.fuel*oxygenPer
	if burnable > 0 {
		part := conversion * min(1, m.oxygen/burnable)
		m.oxygen -= part * burnable
		m.carbonDioxide += part * (m.carbonMonoxide + m.fuel)
		m.carbonMonoxide *= 1 - part
		m.fuel *= 1 - part
	}
	total := m.total()
	if total <= 0 {
		return Gas{O2: 20.95}
	}
	return Gas{
		CO2: 100 * m.carbonDioxide / total, CO: 100 * m.carbonMonoxide / total, O2: 100 * m.oxygen / total,
		HCppm: 1e6 * m.fuel / 6 / total,
	}
}

func (m mole) total() float64 {
	return m.carbonDioxide + m.carbonMonoxide + m.oxygen + m.nitrogen + m.fuel/6
}
