package practice

import "math"

const (
	stoich     = 14.7 // air to fuel by mass
	petrolJ    = 43e6 // lower heating value, J/kg
	burnPoints = 256
)

// wiebe is the burnt fraction 1 − exp(−5·x³) at burnPoints+1 places. Published:
// Heywood 9.2.3, a = 5, m = 2.
var wiebe = func() (out [burnPoints + 1]float64) {
	for i := range out {
		x := float64(i) / burnPoints
		out[i] = (1 - math.Exp(-5*x*x*x)) / (1 - math.Exp(-5))
	}
	return out
}()

// burntAt is the burnt fraction at x of the burn's length, 0…1.
func burntAt(x float64) float64 {
	if x >= 1 {
		return 1
	}
	if x <= 0 {
		return 0
	}
	f := x * burnPoints
	i := int(f)
	return wiebe[i] + (wiebe[i+1]-wiebe[i])*(f-float64(i))
}

// Burn is how one charge burnt.
type Burn struct {
	Lambda   float64 // trapped air over the air its fuel needs; 0 without fuel
	Residual float64 // burnt gas in the charge, fraction
	Misfire  bool
	HeatJ    float64 // heat that reached the gas
}

// dilution is how far the charge is from the flammability limit: 0 easy, 1 at
// the limit. Judgement from Heywood 9.4: lean limit near λ 1.5, residual limit
// near 35 %, rich limit near λ 0.55.
func dilution(lambda, residual float64) float64 {
	d := max(residual-0.10, 0) / 0.27
	if lambda > 1 {
		return d + (lambda-1)/0.5
	}
	return d + (1-lambda)/0.45
}

// ignite decides whether and how the trapped charge burns. Its draws do not
// depend on the outcome, so a fault never shifts the luck of later cycles.
func (e *Engine) ignite(c *cylinder, s Spark) {
	luck, start, length, heat := c.rolls.unit(), c.rolls.normal(), c.rolls.normal(), c.rolls.normal()
	erratic := c.rolls.unit() * e.plant.erratic
	total := c.air + c.fuel + c.residual
	b := Burn{Residual: c.residual / total, Misfire: true}
	c.burnLen, c.heat = 0, 0
	if c.fuel > 0 {
		b.Lambda = c.air / (stoich * c.fuel)
		d := dilution(b.Lambda, b.Residual) + 0.5*erratic + 1.2*c.cond.coolant + ramp(s.BurnSec, 0.6e-3, 0.2e-3)
		if s.BurnSec > 0 && luck > 1/(1+math.Exp(-(d-1)/0.07)) {
			b.Misfire = false
			e.burn(c, &b, d, start, length, heat)
		}
	}
	c.burnt = b
}

func (e *Engine) burn(c *cylinder, b *Burn, d, start, length, heat float64) {
	sp := e.cfg.Spread
	load := ramp(e.manifold.pressure/e.ambient, 0.3, 0.95)
	calm := 1 - 0.6*load // cycles repeat better under load
	c.burnDelay = 9 + 4*d + sp.BurnStart*calm*start
	c.burnLen = (46 + 22*d) * math.Max(1+sp.BurnLength*calm*length*(1+d), 0.5)
	// A third of the heat goes into the walls at idle, a fifth at full load (judgement from Heywood 12).
	release := (0.66 + 0.13*load) * (1 + sp.Efficiency*calm*heat)
	b.HeatJ = petrolJ * c.fuel * math.Min(1, b.Lambda) * e.plant.heat * release
	c.heat = b.HeatJ
	c.invLen = 1 / c.burnLen
}
