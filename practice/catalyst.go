package practice

// catalyst is one bank's catalyst as a single lump of 1 kg: the mean, while the
// front face of a real one heats faster.
type catalyst struct {
	celsius float64
	air     float64 // kg gas since the last tick
	unburnt float64 // J of fuel with oxygen to burn it since the last tick
	harm    float64 // s above 950 °C
}

// Brick heat and gas heat: derived lump model (1 kg,
// 1000 J/kg·K, 1150 J/kg·K); 950 °C is where one maker counts damage.
const (
	brickJK   = 1000.0
	gasCp     = 1150.0
	harmC     = 950.0
	lightOffC = 280.0
)

func newCatalyst(e *Engine) catalyst {
	if e.cfg.Running {
		return catalyst{celsius: 480}
	}
	return catalyst{celsius: e.airK - zeroC}
}

func (k *catalyst) add(e *Engine, c *cylinder) {
	k.air += c.air + c.fuel
	fuel := c.fuel * 0.012
	if c.heat <= 0 {
		fuel = c.fuel
	}
	k.unburnt += petrolJ * min(fuel, c.air/stoich)
}

// inletC is the gas temperature before the catalyst: 480 °C at idle, 850 °C at
// full load (judgement).
func (e *Engine) inletC() float64 {
	return 480 + 370*ramp(e.manifold.inflow/float64(e.n), 0.9e-3, 18e-3)
}

func (k *catalyst) tick(e *Engine, dt float64) {
	k.warm(e.inletC(), dt)
	k.air, k.unburnt = 0, 0
}

// warm moves the brick by dt with what came in.
func (k *catalyst) warm(inletC, dt float64) {
	heat := k.air * gasCp * (inletC - k.celsius)
	if k.celsius > lightOffC {
		heat += k.unburnt
	}
	k.celsius += heat / brickJK
	if k.celsius > harmC {
		k.harm += dt
	}
}

// conversion is the share of fuel and CO it burns: none cold, less when harmed.
func (k *catalyst) conversion() float64 {
	return 0.98 * ramp(k.celsius, lightOffC-30, lightOffC+60) * ramp(k.harm, 600, 0)
}
