package crank

import "math"

// burnDeg is how far the crank turns while the work that a miss takes away is
// delivered: its share after x degrees from top dead centre is 1−exp(−(x/b)²),
// half of it by 42°, nearly all by 100°. From memory of gas-torque diagrams.
const burnDeg = 50.0

// How far the delivery of one firing strays from that, one sigma: later or
// earlier as a whole, slower or faster.
const (
	burnShift   = 6.0 // degrees
	burnStretch = 9.0 // degrees of b
)

// burn is the delivery of one firing: so wide, and so late.
type burn struct{ wide, late float64 }

var usualBurn = burn{wide: burnDeg}

// sum is ∫₀ˣ of the share delivered x degrees after top dead centre, degrees.
func (b burn) sum(x float64) float64 {
	x -= b.late
	if x <= 0 {
		return 0
	}
	return x - b.wide*math.Sqrt(math.Pi)/2*math.Erf(x/b.wide)
}

// delay is by how much the crank clock runs late x degrees after a firing
// that brought the relative energy 1, in degrees: dt = −½·(δE/E)·dθ/ω.
func (b burn) delay(x float64) float64 { return -b.sum(x) / 2 }

// cycleDelay is the same for a firing that repeats every cycle while an even
// load takes the work away again: periodic, of zero mean slope.
func (b burn) cycleDelay(x float64) float64 {
	x = wrapCycle(x - b.late)
	b.late = 0
	mean := b.sum(cycleDeg)/cycleDeg - 0.5
	return -(b.sum(x) - x*x/(2*cycleDeg) - mean*x) / 2
}

func delayOf(x float64) float64    { return usualBurn.delay(x) }
func cycleDelay(x float64) float64 { return usualBurn.cycleDelay(x) }

// strays are the changes of a delay function when the firing strays by one
// sigma, as functions of the angle after top dead centre.
func strays(of func(burn, float64) float64) []func(float64) float64 {
	change := func(more, less burn) func(float64) float64 {
		return func(x float64) float64 { return (of(more, x) - of(less, x)) / 2 }
	}
	return []func(float64) float64{
		change(burn{burnDeg, burnShift}, burn{burnDeg, -burnShift}),
		change(burn{burnDeg + burnStretch, 0}, burn{burnDeg - burnStretch, 0}),
	}
}
