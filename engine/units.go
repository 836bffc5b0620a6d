package engine

import "math"

// CycleDeg is one four-stroke cycle in crank degrees.
const CycleDeg CrankDeg = 720

// RPM is engine speed in crank revolutions per minute.
type RPM float64

// CrankDeg is an angle of the crankshaft in degrees.
type CrankDeg float64

// CycleHz is the rate of whole engine cycles, in hertz: half the crank rate.
func (n RPM) CycleHz() float64 { return float64(n) / 120 }

// OrderHz is the frequency in hertz of an engine order, in cycles per crank
// revolution.
func (n RPM) OrderHz(order float64) float64 { return float64(n) / 60 * order }

// FromCycleHz is the speed at which hz whole engine cycles pass per second.
func FromCycleHz(hz float64) RPM { return RPM(hz * 120) }

// Radians of crank angle.
func (a CrankDeg) Radians() float64 { return float64(a) * math.Pi / 180 }

// WrapCycle brings an angle into [0, 720).
func (a CrankDeg) WrapCycle() CrankDeg {
	w := math.Mod(float64(a), float64(CycleDeg))
	if w < 0 {
		w += float64(CycleDeg)
	}
	if w >= float64(CycleDeg) { // −1e-17 + 720 rounds up to 720
		w = 0
	}
	return CrankDeg(w)
}

// Seconds the crank needs to turn through the angle at speed n.
func (a CrankDeg) Seconds(n RPM) float64 { return float64(a) / (6 * float64(n)) }
