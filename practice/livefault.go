package practice

// liveFault is a fault of the running engine with its intermittency.
type liveFault struct {
	Fault
	kind   Kind
	part   *Part // nil for faults of a place
	rolls  dice
	bursts bool    // on now
	until  float64 // engine seconds at which the burst state ends
	onFor  float64 // severity in force at the last firing
	soaked float64 // coolant that seeped in while standing, 0…1
	cold   float64 // how cold the engine is, 0…1
}

// now is the severity in force for the next firing: it rolls the dice once.
func (f *liveFault) now(e *Engine) float64 {
	f.soaked = e.heat.soaked
	f.cold = ramp(e.heat.coolantC, 60, 30)
	s := f.Severity * f.regimeNow(e)
	switch {
	case f.Chance > 0:
		if f.rolls.unit() >= f.Chance {
			s = 0
		}
	case f.OnSec > 0:
		if !f.burst(e.now) {
			s = 0
		}
	}
	f.onFor = s
	return s
}

// burst steps the on/off state with exponential-like lengths: a uniform draw
// between 0 and twice the mean keeps the mean and needs no logarithm.
func (f *liveFault) burst(now float64) bool {
	for now >= f.until {
		f.bursts = !f.bursts
		mean := f.OffSec
		if f.bursts {
			mean = f.OnSec
		}
		f.until = max(f.until, now-2*mean) + max(2*mean*f.rolls.unit(), 1e-3)
	}
	return f.bursts
}

// regimeNow is how far the regime of the fault holds, 0…1.
func (f *liveFault) regimeNow(e *Engine) float64 {
	switch f.Regime {
	case Cold:
		return ramp(e.heat.coolantC, 50, 40)
	case Hot:
		return ramp(e.heat.coilC, 60, 70)
	case Load:
		return ramp(e.manifold.pressure/e.ambient, 0.6, 0.72)
	case Wet:
		if e.wet {
			return 1
		}
		return 0
	case Idling:
		return ramp(float64(e.rpm()), float64(e.cfg.IdleRPM)+700, float64(e.cfg.IdleRPM)+300)
	}
	return 1
}
