package cutout

import (
	"math"
	"math/cmplx"
	"slices"

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
	beside   []float64   // by cut: what others lost beside what the load shifts to them
}

// learning is how often template and losses are worked out in turn.
const learning = 8

// measure puts into cuts what each took; nothing into those that nothing is known
// of.
func (f *firings) measure(cuts []Cut) {
	w := work{firings: f, cuts: cuts, size: make([]float64, f.layout.N()), took: make([][]float64, len(cuts)), estimate: make([]*Estimate, len(cuts)), beside: make([]float64, len(cuts))}
	for i := range w.size {
		w.size[i] = 1
	}
	for k, c := range cuts {
		if f.lost[k].change != nil && len(c.Cylinders) == 1 {
			w.took[k] = make([]float64, f.layout.N())
			w.others(k)[f.layout.Position(c.Cylinders[0])] = 1
		}
	}
	for range learning {
		template := w.template()
		for k, took := range w.took {
			if took != nil {
				e := w.one(k, template)
				w.estimate[k] = &e
			}
		}
		w.scale()
	}
	if slices.ContainsFunc(w.estimate, func(e *Estimate) bool { return e != nil && (e.Value < leastLoss || e.Value > mostLoss) }) {
		return // the cycles make no sense together
	}
	for k, e := range w.estimate {
		if e != nil && !w.elsewhere(k) {
			cuts[k].Loss, cuts[k].beside = e, w.beside[k]
		}
	}
}

// Losses that make sense, a healthy one being 1, and what another firing may lose
// more than the one called before it seems that the cut was there: the phase of a
// sound slipped, or another connector was pulled (judgement).
const leastLoss, mostLoss, otherLoss = -0.5, 2.0, 0.35

// elsewhere reports whether cut k took another firing than the one called.
func (w *work) elsewhere(k int) bool {
	own := w.layout.Position(w.cuts[k].Cylinders[0])
	for j, v := range w.took[k] {
		if j != own && v > otherLoss && v > w.took[k][own]-otherLoss {
			return true
		}
	}
	return false
}

// others is what all firings lose when the one cut at k loses 1: the load stays,
// so the rest does more, each in proportion to what it does anyway.
func (w *work) others(k int) []float64 {
	own, rest := w.cuts[k].Cylinders[0], 0.0
	for i, v := range w.size {
		if i != int(own)-1 {
			rest += v
		}
	}
	out := w.took[k]
	for j := range out {
		out[j] = -w.size[w.layout.At(j)-1] / math.Max(rest, 1)
	}
	out[w.layout.Position(own)] = 1
	return out
}

// template is what one firing leaves, by least squares over all cuts.
func (w *work) template() []complex128 {
	out, square := make([]complex128, w.width), make([]float64, w.width)
	for k, took := range w.took {
		if took == nil || w.elsewhere(k) {
			continue
		}
		l := w.lost[k]
		for i, h := range w.order {
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

// othersChange is how far firings of other cylinders usually change at a cut,
// beside what all of them do, and othersMost how far they may: a weak one may
// wake up (judgement).
const othersChange, othersMost = 0.04, 0.3

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
	x, e := mostlyNothing(&both, &side, own)
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

// mostlyNothing solves normal equations whose unknowns but one are mostly near
// nothing and now and then far from it: each is held as tightly as it turned out
// small. It returns all, and the one with its error; nil when there is no solution.
func mostlyNothing(normal *mat.Dense, right *mat.VecDense, own int) (*mat.VecDense, Estimate) {
	n := right.Len()
	spread := make([]float64, n)
	for j := range spread {
		spread[j] = othersMost
	}
	var x mat.VecDense
	var e Estimate
	for range 3 {
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
		var inverse mat.SymDense
		if !ch.Factorize(bound) || ch.SolveVecTo(&x, right) != nil || ch.InverseTo(&inverse) != nil {
			return nil, Estimate{0, math.Inf(1)}
		}
		e = Estimate{x.AtVec(own), math.Sqrt(math.Max(inverse.At(own, own), 0))}
		for j := range spread {
			spread[j] = math.Hypot(othersChange, x.AtVec(j))
		}
	}
	return &x, e
}

// equations are the normal equations of what each place in the firing order lost
// at cut k. The harmonics all firings share say nothing of one.
func (w *work) equations(k int, template []complex128) (*mat.SymDense, *mat.VecDense) {
	n, l := w.layout.N(), w.lost[k]
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	row := make([]complex128, n)
	for i, h := range w.order {
		if h%n == 0 || w.noise[i] <= 0 {
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
