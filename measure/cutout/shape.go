package cutout

import "math"

// shape is how the speed answers to a cut that begins at time 0, scaled so that
// its mean over the early window is 1: the fitted amplitude is then the early
// drop itself.
type shape struct {
	step float64
	x    []float64 // x[k] at k·step after the cut; the last one for ever
}

// The early window: before idle control has hidden the drop (trade notes 3.1).
const earlyFrom, earlyTo = 0.3, 0.8

// shapeTail is how long an answer is followed, s.
const shapeTail = 8.0

const shapeStep = 0.025

// control is an idle control as a cut meets it: a loop with proportional and
// integral action, of which a share of the change is never made up.
type control struct {
	omega, zeta float64 // of the loop; omega 0: no recovery at all
	stays       float64
	rise        float64 // s, time constant of the flywheel
}

// answer is the step answer of the control. A loop with integral action answers
// with e^(−ζωt)·sin(ω√(1−ζ²)t), for ζ > 1 with the difference of two decays.
func (c control) answer() shape {
	s := shape{step: shapeStep, x: make([]float64, int(shapeTail/shapeStep))}
	for k := range s.x {
		t := float64(k) * shapeStep
		step := 1 - math.Exp(-t/c.rise)
		if c.omega == 0 {
			s.x[k] = step
		} else {
			s.x[k] = c.loop(t) + c.stays*step
		}
	}
	scale := s.mean(earlyFrom, earlyTo)
	for k := range s.x {
		s.x[k] /= scale
	}
	return s
}

func (c control) loop(t float64) float64 {
	w, z := c.omega, c.zeta
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

// at is the answer t seconds after the cut.
func (s shape) at(t float64) float64 {
	pos := t / s.step
	k := int(pos)
	switch {
	case pos <= 0:
		return 0
	case k+1 >= len(s.x):
		return s.x[len(s.x)-1]
	}
	f := pos - float64(k)
	return (1-f)*s.x[k] + f*s.x[k+1]
}

func (s shape) mean(from, to float64) float64 {
	var sum, n float64
	for t := from; t <= to; t += 0.02 {
		sum, n = sum+s.at(t), n+1
	}
	return sum / n
}

// sampled is the answer at t + k·step for k = 0 … n−1.
func (s shape) sampled(t, step float64, n int) []float64 {
	out := make([]float64, n)
	for k := range out {
		out[k] = s.at(t + float64(k)*step)
	}
	return out
}

// families are the answers tried on engine speed: in each family the same loop
// with a different share that stays, a middling one first. The ranges span no
// idle control to one that recovers within a second (judgement).
var families = func() (out [][]shape) {
	for _, rise := range []float64{0.4, 0.65, 1.1} {
		out = append(out, []shape{control{rise: rise}.answer()})
	}
	for _, omega := range []float64{0.7, 1.2, 2, 3.2, 5} {
		for _, zeta := range []float64{0.35, 0.7, 1, 1.6, 2.5} {
			var family []shape
			for _, stays := range []float64{0.15, 0, 0.4} {
				family = append(family, control{omega, zeta, stays, usualFlywheel}.answer())
			}
			out = append(out, family)
		}
	}
	return out
}()

// bestShape is the answer of least cost, by family first and then within it.
func bestShape(cost func(shape) float64) shape {
	var best []shape
	least := math.Inf(1)
	for _, f := range families {
		if c := cost(f[0]); c < least {
			least, best = c, f
		}
	}
	chosen := best[0]
	for _, s := range best[1:] {
		if c := cost(s); c < least {
			least, chosen = c, s
		}
	}
	return chosen
}
