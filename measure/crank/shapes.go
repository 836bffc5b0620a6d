package crank

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// shapes are all the ways in which marks can come late around a firing, found
// once for a window and then weighted with noise after noise.
type shapes struct {
	own     []float64     // of the firing weighed, per relative energy
	columns [][]float64   // of all else
	kinds   []shapeKind   // of the columns
	norms   []float64     // by which a blind column is scaled; else 1
	gram    *mat.SymDense // products of the columns with one another
	ownGram []float64     // and with own
}

// shapeKind says which level of the noise a shape has.
type shapeKind int

const (
	byNeighbour shapeKind = iota
	byStray
	byRoad
	bySway
	byBlind
)

// blind is how many times the jitter a shape has that must never be let through.
const blind = 1e4

// level is the scatter of a shape's size.
func (n noise) level(kind shapeKind) float64 {
	return [...]float64{n.spread, n.stray, n.road.random, n.road.sway, blind * n.jitterDeg}[kind]
}

func newShapes(x, tops []float64, position int, win window) *shapes {
	s := &shapes{own: column(x, func(a float64) float64 { return delayOf(a - tops[position]) })}
	base := make([]float64, len(x))
	for j := position - win.before - 2; j <= position+win.after; j++ {
		top := firingAt(tops, j)
		c := column(x, func(a float64) float64 { return delayOf(a - top) })
		for i := range base {
			base[i] += c[i]
		}
		if j != position {
			s.add(byNeighbour, c)
		}
		for _, shape := range strays(burn.delay) {
			s.add(byStray, column(x, func(a float64) float64 { return shape(a - top) }))
		}
	}
	// Torque from outside (road, belt): the crank's energy walks at random, or
	// the torque does.
	for a := x[0] - roadStep; a < x[len(x)-1]; a += roadStep {
		s.add(byRoad, column(x, func(b float64) float64 { return -max(0, b-a) / 2 }))
		s.add(bySway, column(x, func(b float64) float64 { return -max(0, b-a) * max(0, b-a) / (4 * roadStep) }))
	}
	for _, c := range append(nuisances(x, tops, position, win), base) {
		s.add(byBlind, c)
	}
	s.multiply()
	return s
}

func (s *shapes) add(kind shapeKind, c []float64) {
	norm := 1.0
	if kind == byBlind {
		if norm = mat.Norm(mat.NewVecDense(len(c), c), 2) / math.Sqrt(float64(len(c))); norm == 0 {
			return
		}
	}
	s.columns, s.kinds, s.norms = append(s.columns, c), append(s.kinds, kind), append(s.norms, norm)
}

// multiply finds the products.
func (s *shapes) multiply() {
	k, n := len(s.columns), len(s.own)
	u := mat.NewDense(k, n, nil)
	for i, c := range s.columns {
		u.SetRow(i, c)
	}
	s.gram = mat.NewSymDense(k, nil)
	s.gram.SymOuterK(1, u)
	var own mat.VecDense
	own.MulVec(u, mat.NewVecDense(n, s.own))
	s.ownGram = own.RawVector().Data
}

var errCannotWeigh = errors.New("the marks cannot weigh a firing")

// taps is the best linear unbiased estimate of the firing's work and its
// scatter. The covariance of the marks is jitter and a sum of few shapes, whose
// inverse needs only their products (Woodbury's identity).
func (s *shapes) taps(n noise) (taps []float64, sigma float64, err error) {
	k := len(s.columns)
	scale := make([]float64, k)
	for i, kind := range s.kinds {
		scale[i] = n.level(kind) / n.jitterDeg / s.norms[i]
	}
	inner := mat.NewSymDense(k, nil)
	right := mat.NewVecDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			inner.SetSym(i, j, scale[i]*scale[j]*s.gram.At(i, j))
		}
		inner.SetSym(i, i, inner.At(i, i)+1)
		right.SetVec(i, scale[i]*s.ownGram[i])
	}
	var chol mat.Cholesky
	var parts mat.VecDense
	if !chol.Factorize(inner) {
		return nil, 0, errCannotWeigh
	}
	if err := chol.SolveVecTo(&parts, right); err != nil && !isCondition(err) {
		return nil, 0, err
	}
	f := mat.NewVecDense(len(s.own), append([]float64(nil), s.own...))
	for i, c := range s.columns {
		f.AddScaledVec(f, -scale[i]*parts.AtVec(i), mat.NewVecDense(len(c), c))
	}
	gain := mat.Dot(f, mat.NewVecDense(len(s.own), s.own))
	if !(gain > 0) {
		return nil, 0, errCannotWeigh
	}
	f.ScaleVec(1/gain, f)
	return f.RawVector().Data, n.jitterDeg / math.Sqrt(gain), nil
}
