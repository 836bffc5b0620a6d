package cutout

import "math"

// shape is how a quantity answers to a cut that begins at time 0, scaled so
// that its mean over the early window is 1: the fitted amplitude is then the
// early drop itself.
type shape struct {
	omega, zeta float64 // control loop; omega 0: no recovery at all
	stays       float64 // share of a change that stays
	rise        float64 // s, of that change
}

// The early window: before idle control has hidden the drop (trade notes 3.1).
const earlyFrom, earlyTo = 0.3, 0.8

// shapeTail is how long a recovering answer is followed, s.
const shapeTail = 8.0

// raw is the answer before scaling. A loop with proportional and integral
// action answers a step of load with e^(−ζωt)·sin(ω√(1−ζ²)t), for ζ > 1 with
// the difference of two decays.
func (s shape) raw(t float64) float64 {
	if t <= 0 {
		return 0
	}
	step := 1 - math.Exp(-t/s.rise)
	if s.omega == 0 {
		return step
	}
	return s.loop(t) + s.stays*step
}

func (s shape) loop(t float64) float64 {
	w, z := s.omega, s.zeta
	switch {
	case z < 0.999:
		d := w * math.Sqrt(1-z*z)
		return w * math.Exp(-z*w*t) * math.Sin(d*t) / d
	case z < 1.001:
		return w * t * math.Exp(-w*t)
	}
	d := w * math.Sqrt(z*z-1)
	return w * (math.Exp(-(z*w-d)*t) - math.Exp(-(z*w+d)*t)) / (2 * d)
}

// sampled is the scaled answer at t + k·step for k = 0 … n−1. The last value
// goes on for ever.
func (s shape) sampled(t, step float64, n int) []float64 {
	scale := s.scale()
	out := make([]float64, n)
	for k := range out {
		out[k] = s.raw(t+float64(k)*step) / scale
	}
	return out
}

func (s shape) scale() float64 {
	var sum, n float64
	for t := earlyFrom; t <= earlyTo; t += 0.05 {
		sum, n = sum+s.raw(t), n+1
	}
	return sum / n
}

// shapes are the answers tried on engine speed. The ranges span no idle control
// to one that recovers within a second (judgement).
func shapes() []shape {
	out := []shape{{rise: 0.4}, {rise: 0.65}, {rise: 1.1}}
	for _, omega := range []float64{0.7, 1.2, 2, 3.2, 5} {
		for _, zeta := range []float64{0.35, 0.7, 1, 1.6} {
			for _, stays := range []float64{0, 0.15, 0.4} {
				out = append(out, shape{omega: omega, zeta: zeta, stays: stays, rise: 0.65})
			}
		}
	}
	return out
}
