package engine

import (
	"math"
	"math/cmplx"
)

// Phasor is harmonic h of one engine cycle when the firing at position k has
// strength w[k], in the unit of w:
//
//	W_h = Σ_k w[k]·exp(−i·h·θ_k/2),  θ_k the firing angle in crank radians
//
// len(w) must be N; anything else is a programmer's error and panics.
func (l Layout) Phasor(h int, w []float64) complex128 {
	if len(w) != l.N() {
		panic("engine: one strength per firing position is needed")
	}
	var sum complex128
	for k, a := range l.spec.Angles {
		sum += complex(w[k], 0) * cmplx.Rect(1, -float64(h)*a.Radians()/2)
	}
	return sum
}

// NaturalPhasor is Phasor with every firing of strength 1: what a healthy
// engine of this layout shows. For even firing it is N when N divides h, else 0.
func (l Layout) NaturalPhasor(h int) complex128 {
	w := make([]float64, l.N())
	for k := range w {
		w[k] = 1
	}
	return l.Phasor(h, w)
}

// MissingAt is the firing position whose loss gives the phase of order 0.5, in
// degrees, on an even-firing engine of n cylinders:
//
//	d = round(n·(180° − phase)/360°) mod n
//
// The answer holds while the phase is off by less than 180/n degrees.
func MissingAt(n int, phaseDeg float64) int {
	d := int(math.Round(float64(n) * (180 - phaseDeg) / 360))
	return ((d % n) + n) % n
}
