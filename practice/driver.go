package practice

import (
	"math"

	"halforder/engine"
)

// driver works pedal, gear and brake torque.
type driver struct {
	pedal  float64 // 0…1
	fixed  float64 // pedal asked for when not holding a speed
	hold   float64 // rad/s to hold, 0: none
	sum    float64
	gear   int     // 0: neutral
	grade  float64 // slope of the road
	kmhSet float64 // road speed to hold, 0: none
	moving float64 // s for which the pedal still counts as moving

	wheelSpeed float64 // m/s
	shaft      spring  // of the gear that is in
	twist      float64 // of the driveline, rad at the crank
}

// drive moves the pedal by dt.
func (d *driver) drive(e *Engine, dt float64) {
	want := d.fixed
	switch {
	case d.gear > 0 && d.kmhSet > 0:
		want = d.regulate(d.kmhSet/3.6, d.wheelSpeed, dt, 0.35)
	case d.hold > 0:
		want = d.regulate(d.hold, e.computer.speed, dt, 0.5)
	}
	was := d.pedal
	d.pedal += clamp(want-d.pedal, -6*dt, 6*dt) // a foot needs a sixth of a second (judgement)
	d.moving = max(d.moving-dt, 0)
	if math.Abs(d.pedal-was) > 0.004 {
		d.moving = 0.4
	}
}

// regulate is a careful foot: proportional and integral on relative error.
func (d *driver) regulate(want, have, dt, gain float64) float64 {
	miss := clamp((want-have)/want, -0.3, 0.3)
	d.sum = clamp(d.sum+0.8*gain*miss*dt, 0, 1)
	return clamp(d.sum+gain*miss*0.5, 0, 1)
}

func (d *driver) ratio(e *Engine) float64 { return e.cfg.Vehicle.Ratios[d.gear-1] }

func (d *driver) kmh() float64 {
	if d.gear == 0 {
		return 0
	}
	return d.wheelSpeed * 3.6
}

// engage puts a gear in with the car already rolling at the matching speed.
func (e *Engine) engage(gear int) {
	e.driver.gear, e.driver.sum = gear, e.driver.pedal
	e.driver.twist = 0
	if gear > 0 {
		e.driver.wheelSpeed = e.omega / e.driver.ratio(e) * e.cfg.Vehicle.WheelM
		e.driver.shaft = e.shaftIn(gear)
		e.driver.twist = e.roadTorque() / e.driver.shaft.stiff
	}
}

// holdSpeed asks the foot to hold an engine speed, 0 to let go.
func (e *Engine) holdSpeed(n engine.RPM) {
	e.driver.hold, e.driver.fixed = rad(n), 0
	e.driver.sum = 0.02 + 0.00001*float64(n)
}
