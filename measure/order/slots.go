package order

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// picture is one band of one stretch of cycles, folded into one cycle.
type picture struct {
	mean  []complex128 // phasors, harmonic 1 first
	noise []float64    // variance of each mean
}

// fold averages the cycles of one band.
func fold(cycles []cycle, band, harmonics int) picture {
	p := picture{make([]complex128, harmonics), make([]float64, harmonics)}
	n := float64(len(cycles))
	for h := range p.mean {
		var sum complex128
		var squares float64
		for _, c := range cycles {
			v := complex128(c.phasors[band*harmonics+h])
			sum += v
			squares += real(v)*real(v) + imag(v)*imag(v)
		}
		p.mean[h] = sum / complex(n, 0)
		m := p.mean[h]
		p.noise[h] = max(squares/n-real(m)*real(m)-imag(m)*imag(m), 0) / max(n-1, 1)
	}
	return p
}

// wave unrolls phasors into a cycle of points, without its mean.
func wave(phasors []complex128, points int) []float64 {
	fft := fourier.NewFFT(points)
	c := make([]complex128, points/2+1)
	copy(c[1:], phasors[:min(len(phasors), points/2)])
	out := fft.Sequence(nil, c)
	return out
}

// quietest is the middle of the quietest eighth of a circular curve.
func quietest(x []float64) int {
	reach := max(len(x)/16, 1)
	best, bestSum := 0, math.Inf(1)
	for i := range x {
		var sum float64
		for d := -reach; d <= reach; d++ {
			sum += x[(i+d+len(x))%len(x)]
		}
		if sum < bestSum {
			best, bestSum = i, sum
		}
	}
	return best
}

// activityOf turns a waveform into its local power, smoothed over width points.
func activityOf(x []float64, width int, noise float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		var sum float64
		for d := -width; d <= width; d++ {
			v := x[(i+d+len(x))%len(x)]
			sum += v * v * (1 + math.Cos(math.Pi*float64(d)/float64(width+1)))
		}
		out[i] = math.Sqrt(max(sum/float64(2*width+1)-noise, 0))
	}
	return out
}

// neighbourRatio is |X_{mN±1}| over |X_mN| pooled over m, times N−1: 1 for one
// dead cylinder.
func (p picture) neighbourRatio(n int) float64 {
	var off, on float64
	for m := 1; m*n < len(p.mean) && m <= 4; m++ {
		on += sq(p.mean[m*n-1]) - p.noise[m*n-1]
		off += (sq(p.mean[m*n-2]) + sq(p.mean[m*n]) - p.noise[m*n-2] - p.noise[m*n]) / 2
	}
	return math.Sqrt(max(off, 0)/max(on, 1e-30)) * float64(n-1)
}

func sq(v complex128) float64 { a := cmplx.Abs(v); return a * a }

const (
	groups  = 6  // stretches of cycles whose differences give the errors
	perSlot = 48 // points of a slot
)

// weigh gives the evidence of every band.
func weigh(cycles []cycle, bands, harmonics, n int) []evidence {
	points := perSlot * n
	out := make([]evidence, bands)
	for b := range out {
		whole := fold(cycles, b, harmonics)
		cut := newCut(whole.activity(b == 0, points), n)
		e := evidence{low: b == 0, strength: cut.strengths(whole.activity(b == 0, points))}
		e.spread = make([]float64, n)
		g := min(groups, len(cycles)/2)
		var all [][]float64
		for i := range g {
			part := cycles[i*len(cycles)/g : (i+1)*len(cycles)/g]
			all = append(all, cut.strengths(fold(part, b, harmonics).activity(b == 0, points)))
		}
		for k := range n {
			var sum, squares float64
			for _, s := range all {
				sum += s[k]
				squares += s[k] * s[k]
			}
			m := sum / float64(g)
			e.spread[k] = math.Sqrt(max(squares/float64(g)-m*m, 0) / float64(max(g-1, 1)))
		}
		e.turn(cut, out)
		out[b] = e
	}
	return out
}

// turn renumbers the slots of an upper band so that they start where those of
// the first upper band do, to the nearest slot.
func (e *evidence) turn(c cut, before []evidence) {
	e.pulse = c.pulse()
	if e.low || len(before) < 2 || len(before[1].strength) == 0 {
		return
	}
	turn := int(math.Round(e.pulse - before[1].pulse))
	n := len(e.strength)
	turned := evidence{low: e.low, pulse: e.pulse}
	for k := range n {
		from := ((k-turn)%n + n) % n
		turned.strength = append(turned.strength, e.strength[from])
		turned.spread = append(turned.spread, e.spread[from])
	}
	*e = turned
}

// pulse is where the first slot's pulse stands, in slots from the cycle start.
func (c cut) pulse() float64 {
	var sum, weight float64
	for i := range c.shape {
		v := max(c.shape[(c.at+i)%len(c.shape)], 0)
		sum += v * float64(c.at+i)
		weight += v
	}
	return sum / max(weight, 1e-300) / float64(len(c.shape))
}

func (p picture) activity(low bool, points int) []float64 {
	w := wave(p.mean, points)
	if !low {
		return w
	}
	var noise float64
	for _, v := range p.noise {
		noise += 2 * v
	}
	return activityOf(w, perSlot/8, noise)
}

// cut says where the slots begin and what the mean slot looks like.
type cut struct {
	n, at int
	shape []float64
	norm  float64
	base  float64
}

func newCut(activity []float64, n int) cut {
	per := len(activity) / n
	shape := make([]float64, per)
	for i, v := range activity {
		shape[i%per] += v / float64(n)
	}
	c := cut{n: n, at: quietest(shape), shape: shape}
	c.base = shape[c.at]
	for i := range shape {
		shape[i] -= c.base
		c.norm += shape[i] * shape[i]
	}
	return c
}

func (c cut) strengths(activity []float64) []float64 {
	per := len(c.shape)
	s := make([]float64, c.n)
	for i, d := range c.shape {
		for k := range s {
			s[k] += d * (activity[(c.at+k*per+(i-c.at+per)%per)%len(activity)] - c.base)
		}
	}
	for k := range s {
		s[k] /= c.norm
	}
	return s
}
