package order

import (
	"math"
	"math/cmplx"
)

const (
	alignMemory = 10.0  // blocks in the picture of the cycle
	alignSpread = 0.008 // expected phase error of a block, in cycles of the engine for each of its own
	cutSpread   = 0.025 // the same where a cut changes the speed
	alignRate   = 0.2   // share of an error taken into the drift
	alignFiring = 0.4   // of a firing interval: an error beyond is one of a whole firing
	alignSteps  = 24    // to each side
)

// aligner holds the phase of blocks along a pace: each is compared with the
// picture of those before over all orders and axes.
type aligner struct {
	top, harmonics int
	every          int     // the harmonics looked at
	reach          float64 // cycles
	mean           []complex128
	noise          []float64 // by harmonic, over the axes
	seen           float64
	phase, drift   float64 // of the pace, in cycles
}

// align turns the phasors of blocks into step by every so many harmonics and
// stores how late each was. All of them hold best. Across a cut only the firing
// orders keep their phase whichever cylinders work.
func align(blocks []cycle, firings, every, top, harmonics int) {
	if len(blocks) == 0 {
		return
	}
	a := &aligner{top: top, harmonics: harmonics, every: every, reach: alignFiring / float64(firings),
		mean: make([]complex128, len(blocks[0].phasors)), noise: make([]float64, top)}
	for i := range blocks {
		blocks[i].late = a.take(blocks[i])
	}
}

func (a *aligner) take(b cycle) float64 {
	a.phase += a.drift
	turnBy(b.phasors, a.harmonics, a.phase)
	if a.seen > 0 {
		spread := alignSpread
		if a.every > 1 {
			spread = cutSpread
		}
		late := a.lateness(b.phasors, spread*b.seconds*b.hz)
		turnBy(b.phasors, a.harmonics, late)
		a.phase += late
		a.drift += alignRate * late
	}
	a.learn(b.phasors)
	return a.phase
}

func (a *aligner) learn(x []complex64) {
	a.seen = min(a.seen+1, alignMemory)
	share := complex(1/a.seen, 0)
	for h := range a.top {
		var off float64
		for i := h; i < len(x); i += a.harmonics {
			d := complex128(x[i]) - a.mean[i]
			a.mean[i] += d * share
			off += sq(d)
		}
		a.noise[h] += (off - a.noise[h]) * real(share)
	}
}

// lateness is the likeliest phase error of a block, in cycles. An order counts
// by how far its picture stands out of the noise.
func (a *aligner) lateness(x []complex64, spread float64) float64 {
	products := make([]complex128, a.top)
	for h := a.every - 1; h < a.top; h += a.every {
		var power float64
		for i := h; i < len(x); i += a.harmonics {
			products[h] += complex128(x[i]) * cmplx.Conj(a.mean[i])
			power += sq(a.mean[i])
		}
		clear := power / (power + 4*a.noise[h]/a.seen + 1e-30)
		products[h] *= complex(clear*clear/(a.noise[h]+0.02*power+1e-30), 0)
	}
	scores := make([]float64, 2*alignSteps+1)
	best := 0
	for s := range scores {
		late := a.reach * float64(s-alignSteps) / alignSteps
		scores[s] = -late * late / spread / spread / 2
		turn, step := complex(1, 0), cmplx.Rect(1, 2*math.Pi*late)
		for _, p := range products {
			turn *= step
			scores[s] += real(p)*real(turn) - imag(p)*imag(turn)
		}
		if scores[s] > scores[best] {
			best = s
		}
	}
	return a.reach * (float64(best-alignSteps) + peak(scores, best)) / alignSteps
}
