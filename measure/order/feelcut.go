package order

import (
	"math"
	"math/cmplx"

	"halforder/engine"
	"halforder/finding"
)

// cutPair is one axis before and during the cut of a known cylinder.
//
//	A_h = H_h Σ w_k e^{−ihθ_k/2},  B_h = g H_h e^{−ihδ} Σ' w_k e^{−ihθ_k/2}
//
// where Σ' leaves the cut cylinder out. H is what the path makes of harmonic h,
// g the change of load, δ the phase the lock lost when the speed fell. H is
// unknown, with the size that the firing orders show, and is integrated out: a
// pattern of work is judged by the ratio B/A it predicts for every harmonic,
// not by the sound itself.
type cutPair struct {
	a, b   []complex128 // harmonic 1 first
	va, vb []float64    // noise and what no model explains
	na, nb []float64    // noise alone
	size   []float64    // expected |H|²
}

const (
	cutFirings    = 2    // firing orders used
	modelError    = 0.25 // H differs that much between the two speeds
	crankError    = 1.0  // where what turns with the crank may be as strong
	pathClutter   = 0.25 // unequal paths, against one cylinder
	slipReach     = 2.0  // firings it may have slipped though it seems held
	slipSteps     = 60   // to each side
	harmonicShare = 2.0  // neighbouring harmonics err alike
	slipSpread    = 1.0  // of the slip, in firings
	heldSpread    = 0.06 // where the phase was held
	slipShare     = 0.03 // chance that it slipped all the same
)

// gains are the changes of load tried, and their spread around the middle one.
var gains = []float64{0.8, 0.9, 1, 1.12, 1.25, 1.4, 1.6, 1.8, 2.1}

// newCutPair takes the axis's part of the size of all.
func newCutPair(before, during picture, layout engine.Layout) cutPair {
	n := layout.N()
	top := min(cutFirings*n+feelBeyond, len(before.mean))
	p := cutPair{a: before.mean[:top], b: during.mean[:top], na: before.noise[:top], nb: during.noise[:top]}
	for h := 1; h <= top; h++ {
		size := 0.0
		if before.noise[h-1] > 0 && during.noise[h-1] > 0 {
			size = cylinderSize(before, during, h, n)
		}
		off := modelError
		if h == turnHarmonic && n > 2 {
			off = crankError
		}
		clutter := pathClutter * pathClutter * size
		p.size = append(p.size, size)
		p.va = append(p.va, before.noise[h-1]+clutter+off*off*sq(p.a[h-1]))
		p.vb = append(p.vb, during.noise[h-1]+clutter+off*off*sq(p.b[h-1]))
	}
	return p
}

// cylinderSize is |H|² near harmonic h from the nearest firing order and the
// orders around it: one cylinder against N−1 there, against one elsewhere.
func cylinderSize(before, during picture, h, n int) float64 {
	m := max((h+n/2)/n, 1) * n
	var sum, weight float64
	for i := max(1, m-n/2); i <= min(len(before.mean), m+n/2); i++ {
		w := 1.0
		if i%n == 0 {
			w = float64((n - 1) * (n - 1))
		}
		sum += sq(before.mean[i-1]) + sq(during.mean[i-1])
		weight += 2 * w
	}
	return sum/weight + 1e-30
}

// phasorTable holds Σ w_k e^{−ihθ_k/2} of one pattern before and during the cut.
func phasorTable(work []float64, cut int, layout engine.Layout, top int) (before, during []complex128) {
	left := append([]float64(nil), work...)
	left[cut] = 0
	for h := 1; h <= top; h++ {
		before, during = append(before, layout.Phasor(h, work)), append(during, layout.Phasor(h, left))
	}
	return before, during
}

// fit is the log-likelihood at one gain and slip (radians at harmonic 1): the
// two-by-two normal law of A and B with H integrated out, heavy-tailed.
func (p cutPair) fit(before, during []complex128, g float64, turns []complex128) float64 {
	var sum float64
	for i := range p.a {
		if p.size[i] == 0 {
			continue // out of reach
		}
		sa, sb := before[i], during[i]*complex(g, 0)
		v, va, vb := p.size[i], p.va[i], p.vb[i]
		na, nb := sq(sa), sq(sb)
		det := va*vb + v*(na*vb+nb*va)
		a, b := p.a[i], p.b[i]*turns[i]
		cross := real(a * cmplx.Conj(sa) * cmplx.Conj(b) * sb)
		q := (sq(a)*(vb+v*nb) + sq(b)*(va+v*na) - 2*v*cross) / det
		sum -= math.Log(det) + 4*math.Log1p(q/2)
	}
	return sum
}

// diedShare is the share of the shaking before a cut below which nothing runs any
// more: what is left shakes harder.
const diedShare = 0.3

// died reports whether the engine stopped shaking during a cut.
func died(before, during []cycle) bool {
	shaking := func(cycles []cycle) float64 {
		var each []float64
		for _, c := range cycles {
			var power float64
			for _, v := range c.phasors {
				power += sq(complex128(v))
			}
			each = append(each, power)
		}
		return math.Sqrt(median(each))
	}
	return shaking(during) < diedShare*shaking(before)
}

// byRatio weighs the patterns by what a cut makes of each order, over all axes.
func (h *heard) byRatio(cut int, before, during []cycle) map[finding.Pattern]float64 {
	var pairs []cutPair
	for a := range h.bands {
		pairs = append(pairs, newCutPair(fold(before, a, h.harmonics), fold(during, a, h.harmonics), h.layout))
	}
	out := map[finding.Pattern]float64{}
	top := len(pairs[0].a)
	slips := slipTurns(top, h.layout.N(), cut < len(h.held) && h.held[cut])
	share := 1 / math.Sqrt(float64(len(pairs))) / harmonicShare
	lost := newLoss(h.cuts[cut].Cylinder, before, pairs, slips)
	for _, pattern := range namedPatterns(h.layout.N()) {
		whole, left := phasorTable(workOf(pattern), h.layout.Position(h.cuts[cut].Cylinder), h.layout, top)
		best := math.Inf(-1)
		prior := namedPrior(pattern)
		for i, s := range slips {
			for _, g := range gains {
				sum := s.log
				for _, p := range pairs {
					sum += share * p.fit(whole, left, g, s.turns)
				}
				best = logAdd(best, sum)
				lost.weigh(i, g, sum+prior)
			}
		}
		out[pattern] = best
	}
	h.losses = append(h.losses, lost)
	return out
}

// slip is a phase the lock may have lost, as factors by harmonic.
type slip struct {
	turns []complex128
	log   float64
}

// slipTurns gives the slips, weighed: hardly any where the phase was held, else
// any alike.
func slipTurns(top, n int, held bool) []slip {
	reach := float64(n) / 2
	if held {
		reach = slipReach
	}
	var out []slip
	for step := -slipSteps; step <= slipSteps; step++ {
		firings := reach * float64(step) / slipSteps
		s := slip{}
		if held {
			s.log = logAdd(math.Log(1-slipShare)-firings*firings/(heldSpread*heldSpread)/2-math.Log(heldSpread),
				math.Log(slipShare)-firings*firings/(slipSpread*slipSpread)/2-math.Log(slipSpread))
		}
		for h := 1; h <= top; h++ {
			s.turns = append(s.turns, cmplx.Rect(1, 2*math.Pi*float64(h)*firings/float64(n)))
		}
		out = append(out, s)
	}
	return out
}
