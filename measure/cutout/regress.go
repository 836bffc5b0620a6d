package cutout

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// detrendSeconds is the running mean taken away before anything is fitted:
// several cuts long, shorter than warm-up.
const detrendSeconds = 24.0

// memorySeconds is how far back the noise model looks: long enough to see idle
// control at work.
const memorySeconds = 2.5

// usualFlywheel is the time constant of a speed without control, s (trade notes
// 3.1): the memory of the noise to begin with, before it is learnt.
const usualFlywheel = 0.65

// model is a record prepared for fitting answers: slow drift and the memory of
// the noise taken out of data and answers alike.
type model struct {
	grid
	mask  []float64 // 0, or NaN where nothing may be used
	y     []float64 // detrended
	white []float64 // and whitened
	phi   []float64 // autoregression of the noise
}

func newModel(g grid) *model {
	m := &model{grid: g, mask: make([]float64, len(g.y))}
	for i, v := range g.y {
		m.mask[i] = v - v // 0 or NaN
	}
	m.y = g.detrend(g.y, detrendSeconds)
	m.usePhi([]float64{math.Exp(-g.step / usualFlywheel)})
	return m
}

// setNoise learns the memory of the noise from residuals.
func (m *model) setNoise(residual []float64) {
	order := min(int(memorySeconds/m.step), len(residual)/20)
	m.phi = autoregression(residual, max(order, 2))
	m.white = m.whiten(m.y)
}

func (m *model) usePhi(phi []float64) {
	m.phi = phi
	m.white = m.whiten(m.y)
}

// beginnings are the noise models to begin a search with: a flywheel alone, and
// one learnt from the quieter parts of the record.
func (m *model) beginnings() [][]float64 {
	flywheel := []float64{math.Exp(-m.step / usualFlywheel)}
	m.usePhi(flywheel)
	m.setNoise(m.quiet())
	return [][]float64{flywheel, m.phi}
}

// quiet is the record without the two fifths around its largest changes.
func (m *model) quiet() []float64 {
	half := max(int(0.4/m.step), 1)
	change := make([]float64, len(m.y))
	for i := range change {
		from, to := max(i-half, 0), min(i+half+1, len(m.y))
		change[i] = math.Abs(meanThere(m.white[i:to]) - meanThere(m.white[from:i+1]))
	}
	ranked := there(change)
	median(ranked) // sorts
	out := append([]float64(nil), m.y...)
	if len(ranked) == 0 {
		return out
	}
	limit := ranked[len(ranked)*3/5]
	for i, c := range change {
		if c > limit {
			out[i] = math.NaN()
		}
	}
	return out
}

// whiten leaves NaN wherever a value needed is missing.
func (m *model) whiten(x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		v := x[i]
		for j, p := range m.phi {
			if i-j-1 < 0 {
				v = math.NaN()
				break
			}
			v -= p * x[i-j-1]
		}
		out[i] = v
	}
	return out
}

// column is a part of the record from cell `from` on; it is 0 elsewhere.
type column struct {
	from int
	x    []float64
}

// column is what an answer of amplitude 1, beginning at time at, does to the
// detrended record. Half a running mean before it and after it has settled there
// is nothing left of it.
func (m *model) column(s shape, at float64) column {
	half := max(int(detrendSeconds/m.step/2), 1)
	from, to := m.cell(m.index(at)-half-1), m.cell(m.index(at+shapeTail)+half+2)
	first, last := m.cell(from-half), m.cell(to+half)
	raw := s.sampled(m.at(first)-at, m.step, last-first)
	for i := range raw {
		raw[i] += m.mask[first+i]
	}
	return column{from, m.detrend(raw, detrendSeconds)[from-first : to-first]}
}

// cell brings a cell number into the record.
func (m *model) cell(k int) int { return max(min(k, len(m.y)), 0) }

// whitened is the column as whiten would leave it; where the record has no
// sample its values mean nothing.
func (m *model) whitened(c column) column {
	n := m.cell(c.from+len(c.x)+len(m.phi)) - c.from
	out := column{c.from, make([]float64, n)}
	copy(out.x, c.x)
	for j, p := range m.phi {
		for i := j + 1; i < n && i-j-1 < len(c.x); i++ {
			out.x[i] -= p * c.x[i-j-1]
		}
	}
	return out
}

// overlap is the scalar product of two columns over the samples that are there.
func overlap(a, b column, there []float64) (sum float64) {
	from, to := max(a.from, b.from), min(a.from+len(a.x), b.from+len(b.x))
	for i := from; i < to; i++ {
		if !math.IsNaN(there[i]) {
			sum += a.x[i-a.from] * b.x[i-b.from]
		}
	}
	return sum
}

// fitted is a least-squares fit of columns to the record.
type fitted struct {
	value    []float64
	sigma    []float64 // standard deviations of value
	residual []float64 // of the detrended record, not whitened
	noise    float64   // standard deviation of one whitened sample
	cost     float64   // n·ln(RSS/n): twice the negative log-likelihood, up to a constant
}

// fit solves for the amplitudes of columns by least squares on the whitened
// record. Columns that cannot be told apart get a large sigma, not a large value.
func (m *model) fit(columns []column) fitted {
	p := len(columns)
	white := make([]column, p)
	normal, right := mat.NewSymDense(max(p, 1), nil), mat.NewVecDense(max(p, 1), nil)
	record := column{0, m.white}
	for j, c := range columns {
		white[j] = m.whitened(c)
		right.SetVec(j, overlap(white[j], record, m.white))
		for k := range j + 1 {
			normal.SetSym(j, k, overlap(white[j], white[k], m.white))
		}
	}
	var square, n float64
	for _, v := range m.white {
		if !math.IsNaN(v) {
			square, n = square+v*v, n+1
		}
	}
	return m.solve(columns, normal, right, square, n)
}

func (m *model) solve(columns []column, normal *mat.SymDense, right *mat.VecDense, square, n float64) fitted {
	p := len(columns)
	f := fitted{value: make([]float64, p), sigma: make([]float64, p), residual: append([]float64(nil), m.y...)}
	if p > 0 {
		var top float64
		for j := range p {
			top = math.Max(top, normal.At(j, j))
		}
		for j := range p { // a ridge far below what any useful column has
			normal.SetSym(j, j, normal.At(j, j)+1e-6*top+1e-12)
		}
		var ch mat.Cholesky
		ch.Factorize(normal)
		var x mat.VecDense
		var inverse mat.SymDense
		if ch.SolveVecTo(&x, right) == nil && ch.InverseTo(&inverse) == nil {
			for j := range p {
				f.value[j], f.sigma[j] = x.AtVec(j), math.Sqrt(math.Max(inverse.At(j, j), 0))
				square -= x.AtVec(j) * right.AtVec(j)
			}
		}
		for j, c := range columns {
			for i, v := range c.x {
				f.residual[c.from+i] -= f.value[j] * v
			}
		}
	}
	free := math.Max(n-float64(p), 1)
	variance := math.Max(square, 1e-12*n+1e-12) / free
	f.noise = math.Sqrt(variance)
	f.cost = n * math.Log(math.Max(square, 1e-12)/math.Max(n, 1))
	for j := range f.sigma {
		f.sigma[j] *= f.noise
	}
	return f
}

const clearOfCircle = 0.98

// autoregression is the Yule–Walker solution of up to the given order, by
// Levinson's recursion (textbook), kept clear of the unit circle. NaN samples are
// left out; a record full of holes then has correlations that no process has, and
// the order ends before the first of them.
func autoregression(x []float64, order int) []float64 {
	r := make([]float64, order+1)
	for lag := range r {
		var n float64
		for i := lag; i < len(x); i++ {
			if v := x[i] * x[i-lag]; !math.IsNaN(v) {
				r[lag], n = r[lag]+v, n+1
			}
		}
		if n > 0 {
			r[lag] /= n
		}
	}
	phi := make([]float64, 0, order)
	left := r[0]
	for k := 1; k <= order && left > 1e-12*r[0] && r[0] > 0; k++ {
		acc := r[k]
		for j, p := range phi {
			acc -= p * r[k-1-j]
		}
		if k > 1 && math.Abs(acc/left) > clearOfCircle {
			break
		}
		reflect := math.Max(-clearOfCircle, math.Min(clearOfCircle, acc/left))
		next := make([]float64, k)
		for j := range phi {
			next[j] = phi[j] - reflect*phi[k-2-j]
		}
		next[k-1] = reflect
		phi, left = next, left*(1-reflect*reflect)
	}
	return phi
}
