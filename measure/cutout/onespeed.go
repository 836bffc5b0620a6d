package cutout

import (
	"math"
	"math/cmplx"
	"slices"
)

// atOneSpeed is what the cycles would have been at the usual speed. What a firing
// leaves in a motion changes with the speed, for the engine rocks on its mounts; by
// how much is seen wherever the speed wanders while the same cylinders work. It is
// the same for all firings: whichever are missing, a harmonic changes by the same
// share.
func (c Cycles) atOneSpeed(speed Track, cuts []Cut) Cycles {
	if c.Sways == 0 || c.Harmonics == 0 || len(c.T) == 0 || len(speed.T) == 0 {
		return c
	}
	usual := median(slices.Clone(speed.Y))
	share := make([]float64, len(c.T))
	for i, r := 0, (reader{Track: speed}); i < len(share); i++ {
		share[i] = r.at(c.T[i])/usual - 1
	}
	change := c.bySpeed(share, c.stretches(cuts))
	out := c
	out.X = make([][]float64, len(c.X))
	for i, x := range c.X {
		u := math.Max(math.Min(share[i], mostShare), -mostShare)
		out.X[i] = make([]float64, len(x))
		for j, a := range change {
			v := complex(x[2*j], x[2*j+1]) * cmplx.Exp(-a*complex(u, 0))
			out.X[i][2*j], out.X[i][2*j+1] = real(v), imag(v)
		}
	}
	return out
}

// mostShare is the largest change of speed allowed for (judgement).
const mostShare = 0.25

// stretches are the looks, from and to, during which the same cylinders work.
func (c Cycles) stretches(cuts []Cut) (out [][2]int) {
	add := func(from, to float64) {
		a, _ := slices.BinarySearch(c.T, from)
		b, _ := slices.BinarySearch(c.T, to)
		if b-a >= 2*leastLooks {
			out = append(out, [2]int{a, b})
		}
	}
	since := math.Inf(-1)
	for _, k := range cuts {
		add(since, k.Start-sureBefore)
		add(k.Start+sureAfter/2, k.End-0.2)
		since = k.End + sureAfter
	}
	add(since, math.Inf(1))
	return out
}

// bySpeed is by which share, complex, each value changes for a share of the speed:
// least squares over all stretches, as much as Sways expected beforehand.
func (c Cycles) bySpeed(share []float64, stretches [][2]int) []complex128 {
	width := c.width() / 2
	along, square := make([]complex128, width), make([]float64, width)
	noise, counted := make([]float64, width), 0.0
	for _, s := range stretches {
		looks := c.X[s[0]:s[1]]
		mean, u := meanLook(looks, width), meanThere(share[s[0]:s[1]])
		counted += float64(len(looks) - 1)
		for i, x := range looks {
			d := share[s[0]+i] - u
			for j, m := range mean {
				off := complex(x[2*j], x[2*j+1]) - m
				along[j] += cmplx.Conj(m) * off * complex(d, 0)
				square[j] += real(m*cmplx.Conj(m)) * d * d
				noise[j] += real(off*cmplx.Conj(off)) / 2
			}
		}
	}
	for j := range along {
		prior := noise[j] / math.Max(counted, 1) / (c.Sways * c.Sways)
		along[j] /= complex(math.Max(square[j]+prior, 1e-30), 0)
	}
	return along
}
