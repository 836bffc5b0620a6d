package crank

import "math"

// burnDeg is how far the crank turns while the work that a miss takes away is
// delivered: its share after x degrees from top dead centre is 1−exp(−(x/b)²),
// half of it by 42°, nearly all by 100°. From memory of gas-torque diagrams;
// a wrong value blurs the answer into the next firing and does not move it.
const burnDeg = 50.0

// delivered is the share of a firing's work delivered x degrees after its top
// dead centre.
func delivered(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return -math.Expm1(-(x / burnDeg) * (x / burnDeg))
}

// deliveredSum is ∫₀ˣ delivered, in degrees.
func deliveredSum(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return x - burnDeg*math.Sqrt(math.Pi)/2*math.Erf(x/burnDeg)
}

// delayOf is by how much the crank clock runs late x degrees after a firing
// that brought the relative energy 1, in degrees: dt = −½·(δE/E)·dθ/ω.
func delayOf(x float64) float64 { return -deliveredSum(x) / 2 }

// cycleDelay is the same for a firing that repeats every cycle while an even
// load takes the work away again: periodic, of zero mean slope.
func cycleDelay(x float64) float64 {
	x = wrapCycle(x)
	mean := deliveredSum(cycleDeg)/cycleDeg - 0.5
	return -(deliveredSum(x) - x*x/(2*cycleDeg) - mean*x) / 2
}
