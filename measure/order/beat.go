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
// misses now and then: 5 % and more.
type beat struct {
	at    []float64 // frames of the tape, by step
	phase []float64 // in cycles, by step
}

// followBeat looks at the lowest multiple of the cycle that the healthy engine
// has, in windows of two cycles in which the others cancel, and smooths its phase (extended Kalman
// filter and Rauch–Tung–Striebel smoother; state: phase and speed).
func (t *tape) followBeat(layout engine.Layout) beat {
	p := beat{at: t.stepsAt()}
	h := lowestNatural(layout)
	z := make([]beatLine, len(t.rows))
	for b, row := range t.rows {
		z[b] = beatLine{h: float64(h), z: linesAlong(cumulate(row), h, p.at)}
	}
	dev := smoothBeat(z)
	p.phase = make([]float64, len(p.at))
	for i := range p.phase {
		p.phase[i] = float64(i)/beatSteps + dev[i]
		if i > 0 {
			p.phase[i] = max(p.phase[i], p.phase[i-1]+0.1/beatSteps)
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

// beatLine is a multiple of the cycle in one band, by step.
type beatLine struct {
	h float64
	z []complex128 // mean square 1
	a complex128   // the usual one
}

// linesAlong takes multiple h of the tracked cycle out of a band, given its
// cumulated frames.
func linesAlong(sums []float64, h int, at []float64) []complex128 {
	blocks := make([]complex128, len(at))
	turns := make([]complex128, beatSteps*beatBlock)
	for i := range turns {
		turns[i] = cmplx.Rect(1, -2*math.Pi*float64(h)*(float64(i)+0.5)/float64(len(turns)))
	}
	for s := range len(at) - 1 {
		step := (at[s+1] - at[s]) / beatBlock
		last := sumAt(sums, at[s])
		for i := range beatBlock {
			next := sumAt(sums, at[s]+float64(i+1)*step)
			blocks[s] += complex((next-last)/step, 0) * turns[s%beatSteps*beatBlock+i]
			last = next
		}
	}
	return normal(windowed(blocks))
}

// windowed sums blocks under a raised cosine of two cycles around each step.
func windowed(blocks []complex128) []complex128 {
	var weights [2 * beatSteps]float64
	for i := range weights {
		weights[i] = 1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(weights)))
	}
	out := make([]complex128, len(blocks))
	for s := range out {
		for i, w := range weights {
			if k := s + i - beatSteps; k >= 0 && k < len(blocks) {
				out[s] += blocks[k] * complex(w, 0)
			}
		}
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

// cumulate gives the sums of all before.
func cumulate(row []float32) []float64 {
	out := make([]float64, len(row)+1)
	for i, v := range row {
		out[i+1] = out[i] + float64(v)
	}
	return out
}

// sumAt reads sums at a fractional place.
func sumAt(sums []float64, at float64) float64 {
	at = min(max(at, 0), float64(len(sums)-1))
	i := min(int(at), len(sums)-2)
	return sums[i] + (sums[i+1]-sums[i])*(at-float64(i))
}

// smoothBeat gives the deviation of the phase from the tracked one, in cycles.
func smoothBeat(lines []beatLine) []float64 {
	alignBands(lines)
	var dev []float64
	for range beatPasses {
		dev = smoothPhase(lines)
		for i := range lines {
			lines[i].a = usualLine(lines[i], dev)
		}
	}
	return dev
}

func usualLine(l beatLine, dev []float64) complex128 {
	var sum complex128
	for s, v := range l.z {
		sum += v * cmplx.Rect(1, -2*math.Pi*l.h*dev[s])
	}
	return sum / complex(float64(len(l.z)), 0)
}

// alignBands finds how the bands stand to each other before any phase is known:
// the leading eigenvector of their covariance, by power iteration.
func alignBands(lines []beatLine) {
	n := len(lines)
	covariance := make([]complex128, n*n)
	for i, a := range lines {
		for j, b := range lines {
			var c complex128
			for s, x := range a.z {
				c += x * cmplx.Conj(b.z[s])
			}
			covariance[i*n+j] = c / complex(float64(len(a.z)), 0)
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
func (s phaseState) correct(lines []beatLine, step int) phaseState {
	at := s.x[0]
	var bend float64
	for range 2 {
		var slope float64
		slope, bend = slopeAndBend(lines, step, at)
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

// slopeAndBend of the log-likelihood Σ 2·Re(z·ā·e^(−ihφ))/(noise·beatSteps): the windows overlap.
// Bands that show noise do not count.
func slopeAndBend(lines []beatLine, step int, at float64) (slope, bend float64) {
	var least float64
	for i := range lines {
		l := &lines[i]
		size := sq(l.a)
		if size < 0.04 {
			continue
		}
		w := 2 / max(1-size, 0.03) / beatSteps
		q := l.z[step] * cmplx.Conj(l.a) * cmplx.Rect(1, -2*math.Pi*l.h*at)
		turn := 2 * math.Pi * l.h
		slope += w * turn * imag(q)
		bend += w * turn * turn * real(q)
		least += w * turn * turn * size
	}
	return slope, max(bend, 0.05*least)
}

// smoothPhase filters forward and smooths backward.
func smoothPhase(lines []beatLine) []float64 {
	n := len(lines[0].z)
	before, after := make([]phaseState, n), make([]phaseState, n)
	s := phaseState{p00: 1, p11: 0.03 * 0.03}
	for i := range n {
		if i > 0 {
			s = s.predict()
		}
		before[i] = s
		s = s.correct(lines, i)
		after[i] = s
	}
	out := make([]float64, n)
	x := s.x
	out[n-1] = x[0]
	for i := n - 2; i >= 0; i-- {
		x = after[i].smoothed(before[i+1], x)
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
