package order

import (
	"math/cmplx"

	"halforder/engine"
)

// absPhasor is the magnitude of the healthy engine's harmonic h of the cycle.
func absPhasor(layout engine.Layout, h int) float64 {
	return cmplx.Abs(layout.NaturalPhasor(h))
}
