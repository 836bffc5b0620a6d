package crank

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// model is what a mean cycle can be made of.
type model struct {
	work    *mat.Dense // lateness per unit of relative energy of each firing
	stray   *mat.Dense // firings that deliver earlier, later, slower, faster
	common  *mat.Dense // compression and inertia, the same in each firing
	spacing *mat.Dense // mark errors
	prior   *mat.SymDense
	noise   cycleNoise

	searching bool // the place of the firings is not known yet
}

// commonSpread is the least prior scatter of the compression and inertia swing,
// degrees of lateness; an engine that swings more widens it.
const commonSpread = 4.0

func newModel(c *clock, tops []float64, jitter float64) model {
	m := model{spacing: spacingColumns(c), prior: spacingPrior(c), noise: newCycleNoise(c.angles, tops, jitter)}
	zero := c.angles[0]
	m.work = mat.NewDense(len(c.angles), len(tops), nil)
	for k, top := range tops {
		m.work.SetCol(k, column(c.angles, func(a float64) float64 { return cycleDelay(a-top) - cycleDelay(zero-top) }))
	}
	shapes := strays(burn.cycleDelay)
	m.stray = mat.NewDense(len(c.angles), len(shapes)*len(tops), nil)
	for k, top := range tops {
		for i, shape := range shapes {
			m.stray.SetCol(len(shapes)*k+i, column(c.angles, func(a float64) float64 { return shape(a-top) - shape(zero-top) }))
		}
	}
	m.common = commonColumns(c.angles, tops)
	return m
}

// commonColumns are the harmonics of the cycle that a pulse repeated at each
// firing leaves: multiples of the firing order when firing is even, all of
// them when it is not.
func commonColumns(angles, tops []float64) *mat.Dense {
	var cols [][]float64
	limit := 3 * len(tops)
	if !evenTops(tops) {
		limit = max(limit, 12)
	}
	for h := 1; h <= limit; h++ {
		for _, phase := range []float64{0, math.Pi / 2} {
			f := func(a float64) float64 {
				s := 0.0
				for _, top := range tops {
					s += math.Cos(float64(h)*(a-top)*math.Pi/360 - phase)
				}
				return s / float64(len(tops))
			}
			col := column(angles, func(a float64) float64 { return f(a) - f(angles[0]) })
			if mat.Norm(mat.NewVecDense(len(col), col), 2) > 1e-6*float64(len(col)) {
				cols = append(cols, col)
			}
		}
	}
	out := mat.NewDense(len(angles), max(1, len(cols)), nil)
	for i, col := range cols {
		out.SetCol(i, col)
	}
	return out
}

// judgeBins judges each bin with the mark errors learnt from all others. Without
// scatters it searches for the place of the firings and takes shapes loosely.
func judgeBins(c *clock, jitter float64, bins []bin, tops []float64, patterns []slotPattern, scatters map[int]scatter) []judgement {
	m := newModel(c, tops, jitter)
	m.searching = scatters == nil
	says := make([]quadratic, len(bins))
	total := newQuadratic(len(c.wheel.Angles))
	for i, b := range bins {
		if len(bins) > 1 {
			says[i] = spacingSaid(m, b, len(tops))
			total.add(says[i])
		}
	}
	var out []judgement
	for i, b := range bins {
		mean, cov := make([]float64, len(b.late)), m.prior
		if len(bins) > 1 {
			others := newQuadratic(len(c.wheel.Angles))
			others.add(total)
			others.sub(says[i])
			mean, cov = m.learntSpacing(others)
		}
		work := workSaid(m, b, mean, cov, nil)
		if !m.searching { // again, now that it is known which firings may stray
			work = workSaid(m, b, mean, cov, deficits(work, fullWork(len(tops), b.rpm)))
		}
		out = append(out, judgeBin(b, work, patterns, scatters[binOf(b.rpm)]))
	}
	return out
}

// spacingSaid is what a bin tells of the mark errors when any cylinder may be
// anything.
func spacingSaid(m model, b bin, cylinders int) quadratic {
	v := m.around(b, nil)
	s := 0.5 * fullWork(cylinders, b.rpm)
	addOuter(v, m.work, scaledIdentity(cylinders, s*s))
	return say(m.spacing, b.late, v)
}

// around is the covariance of a bin's noise and common swing, and of firings
// that deliver earlier or later than the others: what is common to all shows in
// the swing; what a firing's deficit takes away is shaped as uncertainly as any
// burn. Without deficits any firing may have one.
func (m model) around(b bin, deficits []float64) *mat.SymDense {
	v := m.noise.of(b)
	_, k := m.common.Dims()
	swing := max(commonSpread, 3*rms(b.late))
	addOuter(v, m.common, scaledIdentity(k, swing*swing))
	_, firings := m.work.Dims()
	_, k = m.stray.Dims()
	full := fullWork(firings, b.rpm)
	if m.searching {
		full = max(full, rms(b.late)/lateByDead)
	}
	stray := scaledIdentity(k, full*full)
	for i := range k {
		if deficits != nil {
			stray.SetDiag(i, math.Pow(ownStray*full, 2)+math.Pow(deficits[i*firings/k], 2))
		}
	}
	addOuter(v, m.stray, stray)
	m.addCommonBurn(v, max(full, rms(b.late)/lateByDead))
	return v
}

// addCommonBurn adds what all firings do alike, whatever its shape: only what
// one does otherwise than the others tells anything.
func (m model) addCommonBurn(v *mat.SymDense, full float64) {
	_, n := m.work.Dims()
	_, k := m.stray.Dims()
	for i := range 1 + k/n {
		sum := mat.NewVecDense(v.SymmetricDim(), nil)
		for j := range n {
			if i == 0 {
				sum.AddVec(sum, m.work.ColView(j))
			} else {
				sum.AddVec(sum, m.stray.ColView(j*k/n+i-1))
			}
		}
		v.SymRankOne(v, commonBurn*commonBurn*full*full, sum)
	}
}

// commonBurn is how far the work common to all may be from what the model says,
// in full works.
const commonBurn = 4.0

// ownStray is how far the mean burn of one sound cylinder strays from that of
// the others, of what a burn may stray from the assumed one: some 2.5° (from
// memory of combustion texts).
const ownStray = 0.42

// deficits is by how much each firing seems to work less than the good ones.
func deficits(work quadratic, full float64) []float64 {
	n := work.score.Len()
	prior := 1 / (full * full)
	var a mat.Dense
	a.CloneFrom(work.info)
	for i := range n {
		a.Set(i, i, a.At(i, i)+prior)
	}
	var x mat.VecDense
	if err := x.SolveVec(&a, work.score); err != nil && !isCondition(err) {
		return slices.Repeat([]float64{full}, n)
	}
	s := sorted64(x.RawVector().Data)
	good := median(s[len(s)/2:])
	out := make([]float64, n)
	for i := range n {
		out[i] = max(0, good-x.AtVec(i))
	}
	return out
}

// lateByDead is the root mean square lateness, in degrees, that a dead cylinder
// leaves per relative energy of its work (from cycleDelay).
const lateByDead = 16.0

func rms(v []float64) float64 {
	return math.Sqrt(mat.Dot(mat.NewVecDense(len(v), v), mat.NewVecDense(len(v), v)) / float64(len(v)))
}

// workSaid is what a bin tells of the firings' work, given the mark errors.
func workSaid(m model, b bin, spacing []float64, cov mat.Symmetric, deficits []float64) quadratic {
	v := m.around(b, deficits)
	addOuter(v, m.spacing, cov)
	late := make([]float64, len(b.late))
	for i := range late {
		late[i] = b.late[i] - spacing[i]
	}
	return say(m.work, late, v)
}

// learntSpacing is the lateness that the learnt mark errors cause at each mark
// of the cycle, and the covariance left of the errors.
func (m model) learntSpacing(q quadratic) ([]float64, *mat.SymDense) {
	n := q.score.Len()
	var chol mat.Cholesky
	var precision mat.SymDense
	cov := mat.NewSymDense(n, nil)
	if !chol.Factorize(m.prior) || chol.InverseTo(&precision) != nil {
		return make([]float64, 2*n), m.prior
	}
	precision.AddSym(&precision, q.info)
	if !chol.Factorize(&precision) {
		return make([]float64, 2*n), m.prior
	}
	if err := chol.InverseTo(cov); err != nil && !isCondition(err) {
		return make([]float64, 2*n), m.prior
	}
	var errs, late mat.VecDense
	errs.MulVec(cov, q.score)
	late.MulVec(m.spacing, &errs)
	return late.RawVector().Data, cov
}
