package crank

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What a wheel may be off by, in degrees, before anything is learnt.
const (
	toothSpread  = 0.12 // single marks of a toothed wheel; from memory of wheel tolerances
	runoutSpread = 0.20 // once per turn (half of it twice): 0.25 mm off centre at 75 mm radius is 0.19°
	fewSpread    = 0.5  // marks given by angle
	learntSpread = 15   // marks learnt from the same running engine: anything per turn may be spacing
)

// spacingPrior is the covariance of the mark errors of one turn, square
// degrees.
func spacingPrior(c *clock) *mat.SymDense {
	w := c.wheel
	m := len(w.Angles)
	cov := mat.NewSymDense(m, nil)
	own := toothSpread
	switch {
	case w.Learn && !c.nominal:
		own = learntSpread
	case m <= fewMarks:
		own = fewSpread
	}
	for i := range m {
		cov.SetSym(i, i, own*own)
	}
	for order := 1; order <= 2; order++ {
		s := runoutSpread / float64(order)
		for _, phase := range []float64{0, math.Pi / 2} {
			v := column(w.Angles, func(a float64) float64 { return math.Cos(float64(order)*a*math.Pi/180 - phase) })
			cov.SymRankOne(cov, s*s, mat.NewVecDense(m, v))
		}
	}
	return cov
}

// spacingColumns maps the mark errors of the wheel to the lateness of the
// marks of a cycle (which is zero at its mark 0 by definition).
func spacingColumns(c *clock) *mat.Dense {
	m := len(c.wheel.Angles)
	first := c.wheelMark()
	out := mat.NewDense(2*m, m, nil)
	for k := range 2 * m {
		j := (first + k) % m
		out.Set(k, j, out.At(k, j)+1)
		out.Set(k, first, out.At(k, first)-1)
	}
	return out
}

// wheelMark is the number on the wheel of mark 0 of the cycle.
func (c *clock) wheelMark() int {
	best, at := math.Inf(1), 0
	for k, a := range c.wheel.Angles {
		if d := math.Abs(a - c.fromGap); d < best {
			best, at = d, k
		}
	}
	return at
}

// quadratic is what a mean cycle says of a vector x: its log-likelihood is
// −½xᵀ·info·x + scoreᵀ·x, up to a constant.
type quadratic struct {
	info  *mat.SymDense
	score *mat.VecDense
}

func newQuadratic(n int) quadratic {
	return quadratic{mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)}
}

func (q quadratic) add(o quadratic) {
	q.info.AddSym(q.info, o.info)
	q.score.AddVec(q.score, o.score)
}

func (q quadratic) sub(o quadratic) {
	for i := range q.score.Len() {
		for j := i; j < q.score.Len(); j++ {
			q.info.SetSym(i, j, q.info.At(i, j)-o.info.At(i, j))
		}
	}
	q.score.SubVec(q.score, o.score)
}

// say is what late tells of x when late = columns·x + noise of covariance v.
func say(columns *mat.Dense, late []float64, v *mat.SymDense) quadratic {
	_, n := columns.Dims()
	out := newQuadratic(n)
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return out
	}
	var solved mat.Dense
	if err := chol.SolveTo(&solved, columns); err != nil && !isCondition(err) {
		return out
	}
	var info mat.Dense
	info.Mul(columns.T(), &solved)
	for i := range n {
		for j := i; j < n; j++ {
			out.info.SetSym(i, j, (info.At(i, j)+info.At(j, i))/2)
		}
	}
	out.score.MulVec(solved.T(), mat.NewVecDense(len(late), late))
	return out
}

// addOuter adds columns·cov·columnsᵀ to v.
func addOuter(v *mat.SymDense, columns mat.Matrix, cov mat.Symmetric) {
	var half, full mat.Dense
	half.Mul(columns, cov)
	full.Mul(&half, columns.T())
	n := v.SymmetricDim()
	for i := range n {
		for j := i; j < n; j++ {
			v.SetSym(i, j, v.At(i, j)+full.At(i, j))
		}
	}
}

func scaledIdentity(n int, s float64) *mat.DiagDense {
	d := make([]float64, n)
	for i := range d {
		d[i] = s
	}
	return mat.NewDiagDense(n, d)
}
