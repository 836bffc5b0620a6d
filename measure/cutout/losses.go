package cutout

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"halforder/engine"
)

// work is the state of learning what a firing leaves and what each cut took.
type work struct {
	*firings
	cuts     []Cut
	size     []float64   // by cylinder − 1: what it does, healthy ones about 1
	took     [][]float64 // by cut and place in the firing order: what that firing lost; nil: not measured
	estimate []*Estimate // by cut, of the cylinder called
	sure     bool        // sizes are nearly what they will be
	strays   []bool      // by cut: it was not of the cylinder called
	beside   []float64   // by cut: what others lost beside what the load shifts to them
}

// learning is how often template and losses are worked out in turn, and trusting
// after how many times it is known which cylinders may wake up, and which cuts were
// elsewhere: by the first templates many seem so.
const learning, trusting = 6, 3

// measure puts into cuts what each took; nothing into those that nothing is known
// of.
func (f *firings) measure(cuts []Cut) {
	w := f.begin(cuts)
	for pass := range learning {
		w.sure = pass >= trusting
		template := w.template()
		for k, took := range w.took {
			if took != nil {
				e := w.one(k, template)
				w.estimate[k] = &e
				w.strays[k] = w.sure && w.astray(k, template)
			}
		}
		w.scale()
	}
	if !w.sensible() {
		return
	}
	for k, e := range w.estimate {
		if e != nil && !w.strays[k] && w.left(k) >= leastLeft*float64(f.layout.N()) {
			cuts[k].Loss, cuts[k].beside = e, w.beside[k]
		}
	}
}

// begin takes what each cylinder does from how large the changes at its cuts are.
func (f *firings) begin(cuts []Cut) *work {
	n := f.layout.N()
	w := &work{firings: f, cuts: cuts, size: make([]float64, n), took: make([][]float64, len(cuts)), estimate: make([]*Estimate, len(cuts)), beside: make([]float64, len(cuts)), strays: make([]bool, len(cuts))}
	for i := range w.size {
		w.size[i] = 1
	}
	for k, c := range cuts {
		if f.lost[k].change != nil && len(c.Cylinders) == 1 {
			w.took[k] = make([]float64, n)
			w.estimate[k] = &Estimate{f.extent(k), 1}
		}
	}
	w.scale()
	w.scale()
	w.scale() // by halves
	for k, took := range w.took {
		if took == nil {
			continue
		}
		for j, v := range w.others(k) {
			took[j] = v * w.estimate[k].Value
		}
	}
	return w
}

// tells reports whether place i tells firings apart: harmonics all of them share do
// not, and those above tell nothing new, but of the shape of a firing.
func (f *firings) tells(i int) bool {
	h, n := f.order[i], f.layout.N()
	return h%n != 0 && h <= max(n-1, leastHarmonics) && f.noise[i] > 0
}

// leastHarmonics are used of engines with few firings.
const leastHarmonics = 5

// extent is how much the cycle changed at cut k, whichever firings it was.
func (f *firings) extent(k int) float64 {
	var square float64
	l := f.lost[k]
	for i, v := range l.change {
		if f.tells(i) {
			square += (real(v)*real(v)+imag(v)*imag(v))/(f.noise[i]*l.share) - 2
		}
	}
	return math.Sqrt(math.Max(square*l.share, 0))
}

// Losses that make sense, a healthy one being 1, and the share of cuts that may be
// astray before nothing is believed (judgement).
const leastLoss, mostLoss, mostStrays = -0.5, 2.0, 0.4

// sensible reports whether the cuts agree on what a firing leaves.
func (w *work) sensible() bool {
	strays, measured := 0.0, 0.0
	for k, e := range w.estimate {
		if e == nil {
			continue
		}
		measured++
		if w.strays[k] {
			strays++
		} else if e.Value < leastLoss || e.Value > mostLoss {
			return false
		}
	}
	return strays <= mostStrays*measured
}

// A cut seems to have been elsewhere when another firing lost more than otherLoss,
// and not much less than the one called, or when more than mostUnexplained of a
// healthy loss, in energy, is left: the phase of a sound slipped, or another
// connector was pulled (judgement).
const otherLoss, mostUnexplained = 0.35, 0.25

// astray reports whether cut k cannot have been of the cylinder called.
func (w *work) astray(k int, template []complex128) bool {
	l, healthy := w.lost[k], make([]float64, w.layout.N())
	own := w.layout.Position(w.cuts[k].Cylinders[0])
	healthy[own] = 1
	for j, v := range w.took[k] {
		if j != own && v > otherLoss && v > w.took[k][own]-otherLoss {
			return true
		}
	}
	var left, usual float64
	for i, h := range w.order {
		if !w.tells(i) {
			continue
		}
		v := l.change[i] - template[i]*w.layout.Phasor(h, w.took[k])
		left += (real(v)*real(v)+imag(v)*imag(v))/w.noise[i] - 2*l.share
		v = template[i] * w.layout.Phasor(h, healthy)
		usual += (real(v)*real(v) + imag(v)*imag(v)) / w.noise[i]
	}
	return left > mostUnexplained*usual
}

// leastLeft is the share of its cylinders on which an engine goes as it did before
// (judgement): what one of three does alone is no measure of the others.
const leastLeft = 0.4

// left is what the cylinders that were not cut at k do.
func (w *work) left(k int) (sum float64) {
	for i, v := range w.size {
		if i != int(w.cuts[k].Cylinders[0])-1 {
			sum += v
		}
	}
	return sum
}

// others is what all firings lose when the one cut at k loses 1: the load stays,
// so the rest does more, each in proportion to what it does anyway.
func (w *work) others(k int) []float64 {
	own, rest, out := w.cuts[k].Cylinders[0], w.left(k), w.took[k]
	for j := range out {
		out[j] = -w.size[w.layout.At(j)-1] / math.Max(rest, 1)
	}
	out[w.layout.Position(own)] = 1
	return out
}

// template is what one firing leaves, by least squares over all cuts that seem to
// have been where they were called.
func (w *work) template() []complex128 {
	out, square := make([]complex128, w.width), make([]float64, w.width)
	for k, took := range w.took {
		if took == nil || w.strays[k] {
			continue
		}
		l := w.lost[k]
		for i, h := range w.order {
			if !w.tells(i) {
				continue
			}
			a := w.layout.Phasor(h, took)
			out[i] += cmplx.Conj(a) * l.change[i] / complex(l.share, 0)
			square[i] += real(a*cmplx.Conj(a)) / l.share
		}
	}
	for i := range out {
		out[i] /= complex(math.Max(square[i], 1e-30), 0)
	}
	return out
}

// scale brings the healthier half to 1, and takes over what the cylinders do half
// way: they are measured by each other, and would overshoot.
func (w *work) scale() {
	effects := make([]Estimate, len(w.size))
	for i := range effects {
		effects[i] = combine(w.cuts, engine.Cylinder(i+1), func(k int) []Estimate {
			if w.estimate[k] == nil {
				return nil
			}
			return []Estimate{*w.estimate[k]}
		})
	}
	healthy := healthyEffect(effects)
	if healthy <= 0 {
		return
	}
	for k, e := range w.estimate {
		if e == nil {
			continue
		}
		e.Value, e.Sigma = e.Value/healthy, e.Sigma/healthy
		for j := range w.took[k] {
			w.took[k][j] /= healthy
		}
		w.beside[k] /= healthy
	}
	for i, e := range effects {
		if finite(e.Sigma) {
			w.size[i] = (w.size[i] + math.Max(e.Value/healthy, 0)) / 2
		}
	}
}

// othersChange is how far firings of other cylinders change at a cut, beside what
// all of them do, and wakes how far beyond that those do that burn half of the time:
// dead and healthy ones stay what they are (judgement).
const othersChange, wakes = 0.04, 0.3

// freedom is how far the firings at each place may change by themselves.
func (w *work) freedom() []float64 {
	out := make([]float64, w.layout.N())
	for j := range out {
		out[j] = othersChange
		if size := w.size[w.layout.At(j)-1]; w.sure && size < 1 {
			out[j] = math.Hypot(othersChange, 4*wakes*size*(1-size))
		}
	}
	return out
}

// one is what cut k took from its cylinder: least squares over what all firings
// lost, of which most others lost nothing of their own.
func (w *work) one(k int, template []complex128) Estimate {
	own := w.layout.Position(w.cuts[k].Cylinders[0])
	shares := w.shares(k, own)
	normal, right := w.equations(k, template)
	var product, both mat.Dense
	product.Mul(normal, shares)
	both.Mul(shares.T(), &product)
	var side mat.VecDense
	side.MulVec(shares.T(), right)
	x, e := bounded(&both, &side, w.freedom(), own)
	if x == nil {
		return e
	}
	var took mat.VecDense
	took.MulVec(shares, x)
	w.beside[k] = 0
	for j := range w.took[k] {
		w.took[k][j] = took.AtVec(j)
		if j != own && math.Abs(x.AtVec(j)) > 2*w.alike {
			w.beside[k] += x.AtVec(j)
		}
	}
	return e
}

// shares leads from what each firing lost of its own to what it lost: whatever is
// lost is shared out.
func (w *work) shares(k, own int) *mat.Dense {
	n := w.layout.N()
	m := mat.NewDense(n, n, nil)
	for j, v := range w.others(k) {
		for from := range n {
			if j != own {
				m.Set(j, from, v)
			}
		}
		m.Set(j, j, m.At(j, j)+1)
	}
	return m
}

// bounded solves normal equations whose unknowns but one are near nothing, give or
// take spread. It returns all, and the one with its error; nil when there is no
// solution.
func bounded(normal *mat.Dense, right *mat.VecDense, spread []float64, own int) (*mat.VecDense, Estimate) {
	n := right.Len()
	bound := mat.NewSymDense(n, nil)
	for j := range n {
		for m := j; m < n; m++ {
			bound.SetSym(j, m, normal.At(j, m))
		}
		if j != own {
			bound.SetSym(j, j, normal.At(j, j)+1/(spread[j]*spread[j]))
		}
	}
	var ch mat.Cholesky
	var x mat.VecDense
	var inverse mat.SymDense
	if !ch.Factorize(bound) || ch.SolveVecTo(&x, right) != nil || ch.InverseTo(&inverse) != nil {
		return nil, Estimate{0, math.Inf(1)}
	}
	return &x, Estimate{x.AtVec(own), math.Sqrt(math.Max(inverse.At(own, own), 0))}
}

// equations are the normal equations of what each place in the firing order lost
// at cut k.
func (w *work) equations(k int, template []complex128) (*mat.SymDense, *mat.VecDense) {
	n, l := w.layout.N(), w.lost[k]
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	row := make([]complex128, n)
	for i, h := range w.order {
		if !w.tells(i) {
			continue
		}
		weight := 1 / (w.noise[i] * l.share)
		for j, a := range w.layout.Angles() {
			row[j] = template[i] * cmplx.Rect(1, -float64(h)*a.Radians()/2)
		}
		for j := range n {
			right.SetVec(j, right.AtVec(j)+weight*real(cmplx.Conj(row[j])*l.change[i]))
			for m := j; m < n; m++ {
				normal.SetSym(j, m, normal.At(j, m)+weight*real(cmplx.Conj(row[j])*row[m]))
			}
		}
	}
	return normal, right
}
