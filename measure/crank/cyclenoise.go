package crank

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// cycleNoise is how the lateness of one cycle scatters, mark with mark: jitter
// of the edges, firings that work now more and now less, and torque from
// outside that makes the crank's energy walk. The last moves all marks together,
// so it hides slow swings of a mean cycle and leaves fast ones clear.
type cycleNoise struct {
	jitter     *mat.SymDense // for one second of jitter at one rpm
	fire, road *mat.SymDense // for a relative energy of one
	seconds    float64       // of jitter
}

// lateFloor is the lateness no model explains, degrees.
const lateFloor = 0.004

func newCycleNoise(angles, tops []float64, jitter float64) cycleNoise {
	m := len(angles)
	n := cycleNoise{mat.NewSymDense(m, nil), mat.NewSymDense(m, nil), mat.NewSymDense(m, nil), jitter}
	const perSecond = 6.0 // degrees a second at one rpm
	// The edges that begin and end the cycle move all that is measured between:
	// εₖ − (1−u)ε₀ − u·εₘ.
	for i := range m {
		u := angles[i] / cycleDeg
		for j := i; j < m; j++ {
			w := angles[j] / cycleDeg
			v := (1-u)*(1-w) + u*w
			if i == j {
				v++
			}
			if i == 0 {
				v -= 1 - w
			}
			if j == 0 {
				v -= 1 - u
			}
			n.jitter.SetSym(i, j, perSecond*perSecond*v)
		}
	}
	for cycle := -1.0; cycle <= 1; cycle++ {
		for _, top := range tops {
			n.fire.SymRankOne(n.fire, 1, withinCycle(angles, func(a float64) float64 { return delayOf(a - top - cycle*cycleDeg) }))
		}
	}
	for at := -cycleDeg; at < 2*cycleDeg; at += roadStep {
		n.road.SymRankOne(n.road, 1, withinCycle(angles, func(a float64) float64 { return -max(0, a-at) / 2 }))
	}
	return n
}

// withinCycle is the lateness that a delay over angle leaves in a cycle when
// the cycle's own duration and the acceleration from the cycle before to the
// one after are taken out, as accumulate does.
func withinCycle(angles []float64, delay func(a float64) float64) *mat.VecDense {
	begin, end := delay(0), delay(cycleDeg)
	kappa := (delay(2*cycleDeg) - end - (begin - delay(-cycleDeg))) / 2
	return mat.NewVecDense(len(angles), column(angles, func(a float64) float64 {
		u := a / cycleDeg
		return delay(a) - begin - u*(end-begin) + kappa*u*(1-u)/2
	}))
}

// of is the covariance of a bin's mean cycle: the shares of the three are
// fitted to how much each mark scatters.
func (n cycleNoise) of(b bin) *mat.SymDense {
	m := len(b.late)
	jitter := n.seconds * b.rpm
	fire, road := n.fit(b, jitter*jitter)
	// A scatter seen in few cycles may have come out too small.
	each := (1 + 2/float64(b.cycles)) / float64(b.cycles)
	v := mat.NewSymDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			v.SetSym(i, j, each*(jitter*jitter*n.jitter.At(i, j)+fire*n.fire.At(i, j)+road*n.road.At(i, j)))
		}
		v.SetSym(i, i, v.At(i, i)+lateFloor*lateFloor)
	}
	return v
}

// fit finds the variances of firings and of outside torque that explain the
// scatter of the marks best, neither negative, and lets them explain all of it.
func (n cycleNoise) fit(b bin, jitter float64) (fire, road float64) {
	m := len(b.late)
	var ff, fr, rr, fs, rs, seen, f1, r1 float64
	for i := range m {
		f, r, s := n.fire.At(i, i), n.road.At(i, i), max(0, b.scatter[i]-jitter*n.jitter.At(i, i))
		ff, fr, rr, fs, rs = ff+f*f, fr+f*r, rr+r*r, fs+f*s, rs+r*s
		seen, f1, r1 = seen+s, f1+f, r1+r
	}
	det := ff*rr - fr*fr
	fire, road = (fs*rr-rs*fr)/det, (rs*ff-fs*fr)/det
	switch {
	case !(det > 1e-9*ff*rr) || road < 0:
		fire, road = fs/ff, 0
	case fire < 0:
		fire, road = 0, rs/rr
	}
	explained := fire*f1 + road*r1
	if !(explained > 0) {
		return 0, 0
	}
	scale := seen / explained
	if math.IsNaN(scale) || math.IsInf(scale, 0) {
		return 0, 0
	}
	return fire * scale, road * scale
}
