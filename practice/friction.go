package practice

import "math"

// refreshDrag works out the torques that change slowly, N·m at the crank.
// Rubbing friction follows the shape of Heywood 13.5 (0.97 + 0.15 N + 0.05 N²
// bar with pumping; pumping is simulated, so the constant is lower); cold oil
// triples it at −20 °C (judgement).
func (e *Engine) refreshDrag() {
	krpm := float64(e.rpm()) / 1000
	bar := 0.85 + 0.15*krpm + 0.05*krpm*krpm
	cold := 1 + 1.4*ramp(e.heat.coolantC, 80, -20)
	e.drag = bar * cold * 1e5 * e.litres * 1e-3 / (4 * math.Pi)
	if e.omega > 40 {
		e.drag += (300*e.litres/2 + e.accessoryW) / e.omega // alternator, pumps
	}

}

// starterTorque is that of a motor seen at the crank: it falls in a line with
// speed. Peaks of 130–180 A on a middling four are trade practice.
func (e *Engine) starterTorque() float64 {
	e.starterA = 0
	if !e.cranking {
		return 0
	}
	const (
		freeSpeed = 31.0 // rad/s at the crank, 300 rpm
		perLitre  = 84.0 // N·m stalled
		ampsPerNm = 2.2
	)
	torque := perLitre * e.litres * (1 - e.omega/freeSpeed)
	if torque <= 0 {
		return 0
	}
	e.starterA = 30 + ampsPerNm*torque
	return torque
}
