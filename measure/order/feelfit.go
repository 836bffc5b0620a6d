package order

import (
	"math"
	"math/cmplx"
)

const (
	reachShare  = 0.45 // of the sample rate, the highest frequency that is judged: filters bend above
	perUnknown  = 3.0  // samples for each unknown of a block
	leastPer    = 2.0  // and in a block with gaps
	fitRidge    = 0.01 // share of the samples that holds unknowns near 0 where the times leave them open
	blockMost   = 8    // cycles in a block
	feelFirings = 2    // firing orders fitted, where they are within reach
	feelBeyond  = 2    // harmonics above them
)

// reachOf is the highest harmonic of the cycle that samples at a rate can show.
func reachOf(rate, cycleHz float64) int { return int(reachShare * rate / cycleHz) }

// lengthOf is how many cycles it takes to fit so many harmonics.
func lengthOf(rate, cycleHz float64, top int) int {
	return min(max(int(math.Ceil(perUnknown*float64(2*top+1)*cycleHz/rate)), 1), blockMost)
}

// fitter fits the harmonics of the engine cycle to samples at any times by least
// squares:
//
//	x(t) = Σ_h c_h e^{ihφ(t)},  h from −H to H, c_{−h} = c̄_h
//
// for all axes at once. The normal matrix is a Toeplitz one of the sums
// S_m = Σ e^{imφ}: each sample costs some H steps, not H².
type fitter struct {
	top    int
	sums   []complex128 // S_0 to S_2H
	right  [3][]complex128
	matrix [][]complex128
	n      int
}

func newFitter(top int) *fitter {
	f := &fitter{top: top, sums: make([]complex128, 2*top+1), matrix: make([][]complex128, 2*top+1)}
	for a := range f.right {
		f.right[a] = make([]complex128, 2*top+1)
	}
	for i := range f.matrix {
		f.matrix[i] = make([]complex128, 2*top+1)
	}
	return f
}

func (f *fitter) reset() {
	f.n = 0
	clear(f.sums)
	for a := range f.right {
		clear(f.right[a])
	}
}

// add takes a sample at a phase in cycles.
func (f *fitter) add(phase float64, x [3]float64) {
	f.n++
	step := cmplx.Rect(1, 2*math.Pi*phase)
	turn := complex(1, 0)
	for m := range f.sums {
		f.sums[m] += turn
		if m <= f.top { // right[H+h] = Σ x e^{−ihφ}; the others are conjugates
			for a, v := range x {
				f.right[a][f.top+m] += complex(v*real(turn), -v*imag(turn))
			}
		}
		turn *= step
	}
}

// solve returns harmonics 1 to H of the three axes, or false when the times do
// not tell them apart. The phasors are those of fold: half of the amplitude.
func (f *fitter) solve() (out [3][]complex128, ok bool) {
	size := 2*f.top + 1
	if float64(f.n) < leastPer*float64(size) {
		return out, false
	}
	for i := range size {
		for k := range i + 1 {
			f.matrix[i][k] = cmplx.Conj(f.sums[i-k]) // Σ e^{i(h_k−h_i)φ}
		}
		f.matrix[i][i] += complex(fitRidge*float64(f.n), 0)
	}
	if !factor(f.matrix) {
		return out, false
	}
	for a := range out {
		b := f.right[a]
		for h := 1; h <= f.top; h++ {
			b[f.top-h] = cmplx.Conj(b[f.top+h])
		}
		substitute(f.matrix, b)
		out[a] = append([]complex128(nil), b[f.top+1:]...)
	}
	return out, true
}

// factor replaces the lower half of a Hermitian matrix by its Cholesky factor;
// false when it is not positive.
func factor(m [][]complex128) bool {
	for i := range m {
		for k := range i + 1 {
			sum := m[i][k]
			for j := range k {
				sum -= m[i][j] * cmplx.Conj(m[k][j])
			}
			switch {
			case k < i:
				m[i][k] = sum / m[k][k]
			case real(sum) > 0:
				m[i][i] = complex(math.Sqrt(real(sum)), 0)
			default:
				return false
			}
		}
	}
	return true
}

// substitute solves the factored system in place.
func substitute(m [][]complex128, b []complex128) {
	for i := range b {
		for k := range i {
			b[i] -= m[i][k] * b[k]
		}
		b[i] /= m[i][i]
	}
	for i := len(b) - 1; i >= 0; i-- {
		for k := i + 1; k < len(b); k++ {
			b[i] -= cmplx.Conj(m[k][i]) * b[k]
		}
		b[i] /= m[i][i]
	}
}

// alignRounds is how often the pace is corrected by what the fits along it show.
const alignRounds = 2

// aligned fits the motion along a pace, corrects the pace by how late each block
// is against those before, and fits again; at last it turns what is left.
func (m *motion) aligned(p pace, w fit) ([]cycle, pace) {
	for round := 0; ; round++ {
		blocks := m.blocks(p, w.top, w.length, w.harmonics)
		align(blocks, w.firings, w.every, w.top, w.harmonics)
		if round == w.rounds {
			return blocks, p
		}
		p = p.moved(blocks)
	}
}

// fit says how a motion is fitted.
type fit struct {
	firings   int // in a cycle
	every     int // the harmonics that hold the phase
	top       int // highest harmonic
	length    int // cycles in a block
	harmonics int // kept
	rounds    int // of correction
}

// blocks fits the motion along a pace, a few cycles at a time, and returns what
// each shows as one cycle of three bands, one for each axis.
func (m *motion) blocks(p pace, top, length, harmonics int) []cycle {
	f := newFitter(top)
	var out []cycle
	i := 0
	for from := 0; from+length <= p.cycles(); from += length {
		f.reset()
		c := from
		for ; i < len(m.t) && m.t[i] < p.starts[from+length]; i++ {
			for m.t[i] >= p.starts[c+1] {
				c++
			}
			if m.t[i] >= p.starts[c] {
				f.add((m.t[i]-p.starts[c])/(p.starts[c+1]-p.starts[c]), [3]float64{m.x[0][i], m.x[1][i], m.x[2][i]})
			}
		}
		fit, ok := f.solve()
		if !ok {
			continue
		}
		seconds := p.starts[from+length] - p.starts[from]
		one := cycle{start: p.starts[from], seconds: seconds, hz: float64(length) / seconds,
			score: p.scores[from], phasors: make([]complex64, 3*harmonics)}
		for a, row := range fit {
			for h, v := range row {
				one.phasors[a*harmonics+h] = complex64(v)
			}
		}
		out = append(out, one)
	}
	return out
}
