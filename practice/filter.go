package practice

import "math"

// biquad is a second-order filter in direct form 2, transposed. Formulas: the
// usual bilinear-transform low-pass, high-pass and resonance of textbooks.
type biquad struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

func lowPass(hz, q, rate float64) biquad {
	w, a := corner(hz, q, rate)
	c := math.Cos(w)
	return normalised((1-c)/2, 1-c, (1-c)/2, 1+a, -2*c, 1-a)
}

func highPass(hz, q, rate float64) biquad {
	w, a := corner(hz, q, rate)
	c := math.Cos(w)
	return normalised((1+c)/2, -(1 + c), (1+c)/2, 1+a, -2*c, 1-a)
}

func bandPass(hz, q, rate float64) biquad {
	w, a := corner(hz, q, rate)
	return normalised(a, 0, -a, 1+a, -2*math.Cos(w), 1-a)
}

func corner(hz, q, rate float64) (w, a float64) {
	w = 2 * math.Pi * min(hz, 0.45*rate) / rate
	return w, math.Sin(w) / (2 * q)
}

func normalised(b0, b1, b2, a0, a1, a2 float64) biquad {
	return biquad{b0: b0 / a0, b1: b1 / a0, b2: b2 / a0, a1: a1 / a0, a2: a2 / a0}
}

func (f *biquad) pass(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}
