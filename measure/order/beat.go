package order

import (
	"math"
	"math/cmplx"

	"halforder/engine"
)

const (
	beatSteps   = 8    // of a cycle at which the phase is followed
	beatBlock   = 8    // points of a step
	beatPasses  = 4    // phase and picture in turn
	beatSpeed   = 0.02 // spread of the change of speed from step to step, ratio: a miss takes some 5 % within a cycle
	beatHold    = 0.97 // share of what the speed differs from the tracked one that is left a step later
	beatWander  = 0.002
	beatNatural = 0.35 // share of full strength from which a multiple is followed
)

// beat is the phase of the engine cycle followed from firing to firing, both
// ways in time. The lock follows whole cycles by what they looked like before,
// and loses them where the speed changes from cycle to cycle, as it does with
// misses now and then: 5 % and more. In cycles, by step.
type beat []float64

// followed smooths the phase of the lowest multiple of the cycle that the healthy
// engine has (extended Kalman filter and Rauch–Tung–Striebel smoother; state:
// phase and speed).
func (l beatLines) followed() beat {
	dev := l.smooth()
	p := make(beat, len(dev))
	for i := range p {
		p[i] = float64(i)/beatSteps + dev[i]
		if i > 0 {
			p[i] = max(p[i], p[i-1]+0.1/beatSteps)
		}
	}
	return p
}

// lowestNatural is the lowest multiple of the cycle that a healthy engine has.
func lowestNatural(layout engine.Layout) int {
	for h := 1; ; h++ {
		if h == layout.N() || absPhasor(layout, h) >= beatNatural*float64(layout.N()) {
			return h
		}
	}
}

// stepsAt gives the frames at which the tracked speed begins each step.
func (t *tape) stepsAt() []float64 {
	var out []float64
	at := t.starts[0] - float64(t.first)
	end := t.end - float64(t.first)
	for k := 0; at < end; {
		out = append(out, at)
		for k+1 < len(t.starts) && t.starts[k+1]-float64(t.first) <= at {
			k++
		}
		hz := t.hz[k]
		if k+1 < len(t.starts) {
			a := t.starts[k] - float64(t.first)
			hz += (t.hz[k+1] - hz) * max(0, at-a) / (t.starts[k+1] - t.starts[k])
		}
		at += t.rate / hz / beatSteps
	}
	return out
}

// beatLines is multiple h of the cycle in each band.
type beatLines struct {
	h     float64
	bands []beatLine
}

// beatLine is it in one band, by step.
type beatLine struct {
	z []complex128 // mean square 1
	a complex128   // the usual one
}

// lineOf takes multiple h of the tracked cycle out of a band, given its
// cumulated frames, in windows of two cycles in which the others cancel.
func lineOf(sums []float64, h int, at []float64) beatLine {
	blocks := make([]complex128, len(at))
	turns := make([]complex128, beatSteps*beatBlock)
	for i := range turns {
		turns[i] = cmplx.Rect(1, -2*math.Pi*float64(h)*(float64(i)+0.5)/float64(len(turns)))
	}
	for s := range len(at) - 1 {
		step := (at[s+1] - at[s]) / beatBlock
		last := sumAt(sums, at[s])
		var re, im float64
		for i, turn := range (*[beatBlock]complex128)(turns[s%beatSteps*beatBlock:]) {
			next := sumAt(sums, at[s]+float64(i+1)*step)
			re, im = re+(next-last)*real(turn), im+(next-last)*imag(turn)
			last = next
		}
		blocks[s] = complex(re/step, im/step)
	}
	return beatLine{z: normal(windowed(blocks))}
}

// windowed sums blocks under a raised cosine of two cycles around each step.
func windowed(blocks []complex128) []complex128 {
	var weights [2 * beatSteps]float64
	for i := range weights {
		weights[i] = 1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(weights)))
	}
	out := make([]complex128, len(blocks))
	for s := range out {
		var re, im float64
		from := max(beatSteps-s, 0)
		for i, w := range weights[from:min(len(blocks)+beatSteps-s, len(weights))] {
			block := blocks[s+from+i-beatSteps]
			re, im = re+w*real(block), im+w*imag(block)
		}
		out[s] = complex(re, im)
	}
	return out
}

// normal scales to mean square 1.
func normal(z []complex128) []complex128 {
	var power float64
	for _, v := range z {
		power += real(v)*real(v) + imag(v)*imag(v)
	}
	scale := complex(1/math.Sqrt(max(power/float64(len(z)), 1e-300)), 0)
	for i := range z {
		z[i] *= scale
	}
	return z
}

// cumulate gives the sums of all before, in memory that may be used again.
func cumulate(out []float64, row []float32) []float64 {
	out = grown(out, len(row)+1)
	sum := 0.0
	for i, v := range row {
		out[i] = sum
		sum += float64(v)
	}
	out[len(row)] = sum
	return out
}

// sumAt reads sums at a fractional place.
func sumAt(sums []float64, at float64) float64 {
	at = min(max(at, 0), float64(len(sums)-1))
	i := min(int(at), len(sums)-2)
	return sums[i] + (sums[i+1]-sums[i])*(at-float64(i))
}

// smooth gives the deviation of the phase from the tracked one, in cycles.
func (l beatLines) smooth() []float64 {
	l.align()
	turns, known := make([]complex128, len(l.bands[0].z)), make([]knownStep, len(l.bands[0].z))
	for range beatPasses - 1 {
		for s, d := range l.smoothPhase(known) {
			turns[s] = l.turn(d)
		}
		for i := range l.bands {
			l.bands[i].a = l.bands[i].usual(turns)
		}
	}
	return l.smoothPhase(known)
}

// turn undoes a deviation of the phase.
func (l beatLines) turn(phase float64) complex128 { return cmplx.Rect(1, -2*math.Pi*l.h*phase) }

func (l beatLine) usual(turns []complex128) complex128 {
	var sum complex128
	for s, v := range l.z {
		sum += v * turns[s]
	}
	return sum / complex(float64(len(l.z)), 0)
}

// align finds how the bands stand to each other before any phase is known:
// the leading eigenvector of their covariance, by power iteration.
func (l beatLines) align() {
	lines := l.bands
	n := len(lines)
	covariance := make([]complex128, n*n)
	for i, a := range lines {
		for j, b := range lines[:i+1] {
			c := product(a.z, b.z) / complex(float64(len(a.z)), 0)
			covariance[i*n+j], covariance[j*n+i] = c, cmplx.Conj(c)
		}
	}
	v, next, value := make([]complex128, n), make([]complex128, n), 0.0
	v[n-1] = 1
	for range 20 {
		value = 0
		for i := range next {
			next[i] = 0
			for j, x := range v {
				next[i] += covariance[i*n+j] * x
			}
			value += sq(next[i])
		}
		value = math.Sqrt(value)
		for i := range v {
			v[i] = next[i] / complex(max(value, 1e-300), 0)
		}
	}
	for i := range lines {
		lines[i].a = v[i] * complex(min(math.Sqrt(value), 1), 0)
	}
}

// product is Σ a·b̄.
func product(a, b []complex128) complex128 {
	var re, im float64
	for s, x := range a {
		y := b[s]
		re += real(x)*real(y) + imag(x)*imag(y)
		im += imag(x)*real(y) - real(x)*imag(y)
	}
	return complex(re, im)
}

// phaseState is what is known of phase, in cycles, and speed, ratio to the
// tracked one, at a step.
type phaseState struct {
	x             [2]float64
	p00, p01, p11 float64
}

// predict goes one step on.
func (s phaseState) predict() phaseState {
	dt, hold := 1.0/float64(beatSteps), beatHold
	return phaseState{
		x:   [2]float64{s.x[0] + dt*s.x[1], hold * s.x[1]},
		p00: s.p00 + 2*dt*s.p01 + dt*dt*s.p11 + beatWander*beatWander,
		p01: hold * (s.p01 + dt*s.p11),
		p11: hold*hold*s.p11 + beatSpeed*beatSpeed,
	}
}

// correct takes the lines of one step. Slope and bend of their log-likelihood
// in the phase, found twice, make one measurement.
func (s phaseState) correct(l stepLine, h float64) phaseState {
	at := s.x[0]
	var bend float64
	for range 2 {
		var slope float64
		slope, bend = l.slopeAndBend(h, at)
		total := bend + 1/s.p00
		at += min(max((slope-(at-s.x[0])/s.p00)/total, -0.05), 0.05)
	}
	k := bend / (bend + 1/s.p00) // share of the measurement
	gain1 := s.p01 / s.p00
	move := at - s.x[0]
	return phaseState{
		x:   [2]float64{at, s.x[1] + gain1*move},
		p00: s.p00 * (1 - k),
		p01: s.p01 * (1 - k),
		p11: s.p11 - k*gain1*s.p01,
	}
}

// stepLine is what all bands say at a step of the log-likelihood
// Σ 2·Re(z·ā·e^(−ihφ))/(noise·beatSteps): the windows overlap.
type stepLine struct {
	sum   complex128 // of z·ā, weighted
	least float64    // bend
}

// weights are 2·ā/(noise·beatSteps) by band, 0 for those that show noise, and the
// bend that there is at least.
func (l beatLines) weights() (weights []complex128, least float64) {
	for _, b := range l.bands {
		size := sq(b.a)
		w := 0.0
		if size >= 0.04 {
			w = 2 / max(1-size, 0.03) / beatSteps
		}
		weights = append(weights, complex(w, 0)*cmplx.Conj(b.a))
		least += w * size
	}
	return weights, 0.05 * least
}

func (l stepLine) slopeAndBend(h, at float64) (slope, bend float64) {
	turn := 2 * math.Pi * h
	sin, cos := math.Sincos(turn * at)
	re, im := real(l.sum)*cos+imag(l.sum)*sin, imag(l.sum)*cos-real(l.sum)*sin
	return turn * im, turn * turn * max(re, l.least)
}

// knownStep is what is known of a step before its lines and with them.
type knownStep struct{ before, after phaseState }

// smoothPhase filters forward and smooths backward.
func (l beatLines) smoothPhase(known []knownStep) []float64 {
	n := len(known)
	s := phaseState{p00: 1, p11: 0.03 * 0.03}
	weights, least := l.weights()
	for i := range known {
		line := stepLine{least: least}
		for b, w := range weights {
			line.sum += l.bands[b].z[i] * w
		}
		if i > 0 {
			s = s.predict()
		}
		known[i].before = s
		s = s.correct(line, l.h)
		known[i].after = s
	}
	out := make([]float64, n)
	x := s.x
	out[n-1] = x[0]
	for i := n - 2; i >= 0; i-- {
		x = known[i].after.smoothed(known[i+1].before, x)
		out[i] = x[0]
	}
	return out
}

// smoothed joins what was known with what the next step became.
func (s phaseState) smoothed(predicted phaseState, next [2]float64) [2]float64 {
	dt, hold := 1.0/float64(beatSteps), beatHold
	// P·Fᵀ
	a, b := s.p00+dt*s.p01, hold*s.p01
	c, d := s.p01+dt*s.p11, hold*s.p11
	det := predicted.p00*predicted.p11 - predicted.p01*predicted.p01
	if det <= 0 {
		return s.x
	}
	i00, i01, i11 := predicted.p11/det, -predicted.p01/det, predicted.p00/det
	e0, e1 := next[0]-predicted.x[0], next[1]-predicted.x[1]
	u, v := i00*e0+i01*e1, i01*e0+i11*e1
	return [2]float64{s.x[0] + a*u + b*v, s.x[1] + c*u + d*v}
}
