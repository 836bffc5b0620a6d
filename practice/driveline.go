package practice

import "math"

// The car hangs on the crank by shafts that give: firings turn the crank alone, and
// what is slower carries the car along (U. Kiencke, L. Nielsen, Automotive Control
// Systems, "driveline": a spring with damping between two masses, its shuffle at 2 to
// 8 Hz, from memory).
const (
	wheelStiff    = 6000 // N·m for each radian at the wheels: half shafts and clutch (judgement)
	shuffleDamped = 0.25 // of critical (judgement)
	drivelineGain = 0.93 // of the torque that reaches the wheels
)

// spring is the driveline as the crank feels it, N·m/rad and N·m·s/rad.
type spring struct{ stiff, damp float64 }

func (e *Engine) shaftIn(gear int) spring {
	r := e.cfg.Vehicle.Ratios[gear-1]
	car, crank := e.reflected(), e.inertia[0]
	s := spring{stiff: wheelStiff / (r * r)}
	s.damp = 2 * shuffleDamped * math.Sqrt(s.stiff*car*crank/(car+crank))
	return s
}

// reflected is the car's mass seen as inertia at the crank, kg·m².
func (e *Engine) reflected() float64 {
	r := e.cfg.Vehicle.WheelM / e.driver.ratio(e)
	return e.cfg.Vehicle.MassKg * r * r
}

// roadTorque is what drag, rolling and slope ask of the crank at a steady speed, N·m:
// textbook road loads, air at 1.2 kg/m³.
func (e *Engine) roadTorque() float64 {
	v, car := e.driver.wheelSpeed, e.cfg.Vehicle
	force := 0.5*1.2*car.DragM2*v*v + 9.81*car.MassKg*(car.Rolling+e.driver.grade)
	return force * car.WheelM / e.driver.ratio(e) / drivelineGain
}

// brakes is the torque of the driveline, or in neutral of the brake, at the crank, N·m.
func (e *Engine) brakes() float64 {
	if e.driver.gear == 0 {
		return e.load
	}
	return e.pull() + e.driver.shaft.damp*(e.omega-e.carTurns())
}

// pull is brakes without what comes and goes with every firing.
func (e *Engine) pull() float64 {
	if e.driver.gear == 0 {
		return e.load
	}
	return e.load + e.driver.shaft.stiff*e.driver.twist
}

// carTurns is the crank speed that matches the road speed, rad/s.
func (e *Engine) carTurns() float64 {
	return e.driver.wheelSpeed / e.cfg.Vehicle.WheelM * e.driver.ratio(e)
}

// roll moves the car by dt with the torque that the driveline took from the crank.
func (e *Engine) roll(torque, dt float64) {
	if e.driver.gear == 0 {
		return
	}
	turns := e.carTurns()
	e.driver.twist += (e.omega - turns) * dt
	turns += (torque - e.roadTorque()) * drivelineGain / e.reflected() * dt
	e.driver.wheelSpeed = max(turns, 0) / e.driver.ratio(e) * e.cfg.Vehicle.WheelM
}
