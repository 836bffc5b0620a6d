package crank

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// starter is the model of an engine turned by its starter. Energy E of the
// crank is counted so that the starter brings 1 per hundred degrees at stall:
//
//	dE/dθ = 1 − drag·√E − Σ_k c_k·dW/dθ(θ−θ_k) − leak
//
// W is the share of compression energy stored (well). A leaking cylinder gives
// back less than it took.
type starter struct {
	press []float64 // c_k, compression energies by slot
	drag  float64   // ln of the loss of pull with speed
	leak  float64   // share of the missing compression that is lost for good
	shift float64   // degrees by which all top dead centres are late
}

// The priors of the model, one sigma.
const (
	pressSpread = 0.45 // of a compression, of their mean
	dragSpread  = 1.0  // of ln drag
	leakMean    = 0.3
	leakSpread  = 0.3
	shapeNoise  = 0.03  // share of an interval that the model misses, before a fit has shown it
	leastShape  = 0.006 // afterwards, on a toothed wheel
	swingShape  = 0.04  // or this share of the swing of a crank that turns more evenly
	fewShape    = 0.03  // on few marks: each step spans much of a compression
)

const crankStep = 3.0 // degrees of integration

// wellSlope is dW/dθ by steps of crankStep over one cycle from top dead centre,
// per hundred degrees.
var wellSlope = func() []float64 {
	out := make([]float64, int(cycleDeg/crankStep))
	for i := range out {
		x := float64(i) * crankStep
		out[i] = (well(x+crankStep) - well(x)) / crankStep * 100
	}
	return out
}()

// shares predicts the share of the cycle's time between marks.
func (s starter) shares(angles, tops []float64) []float64 {
	n := len(wellSlope)
	pull := s.pull(tops, n)
	energy := 1.0
	drag := math.Exp(s.drag)
	times := make([]float64, n)
	for round := range 6 {
		begin := energy
		for i := range n {
			before := energy
			energy = max(energy+(1-drag*math.Sqrt(energy)-pull[i])*crankStep/100, 0.003)
			times[i] = crankStep * 2 / (math.Sqrt(before) + math.Sqrt(energy))
		}
		if round > 1 && math.Abs(energy-begin) < 1e-4 {
			break
		}
	}
	return gather(times, angles)
}

// pull is what the compressions take from the crank, by steps of the cycle.
func (s starter) pull(tops []float64, n int) []float64 {
	out := make([]float64, n)
	good := upperMiddle(s.press)
	for k, top := range tops {
		at := (top + s.shift) / crankStep
		whole := math.Floor(at)
		part := at - whole
		lost := s.leak * max(0, 1-s.press[k]/good)
		for i := range n {
			j := wrapIndex(i-int(whole), n)
			// The top falls between two steps: mix them.
			slope := wellSlope[j]*(1-part) + wellSlope[wrapIndex(j-1, n)]*part
			if j < n/2 { // giving back
				slope *= 1 - min(lost, 0.9)
			}
			out[i] += s.press[k] * slope
		}
	}
	return out
}

// gather sums step times between marks, as shares.
func gather(times, angles []float64) []float64 {
	cum := make([]float64, len(times)+1)
	for i, t := range times {
		cum[i+1] = cum[i] + t
	}
	at := func(a float64) float64 {
		x := a / crankStep
		i := min(int(x), len(times)-1)
		return cum[i] + (x-float64(i))*times[i]
	}
	out := make([]float64, len(angles))
	for k, a := range angles {
		to := cum[len(times)]
		if k+1 < len(angles) {
			to = at(angles[k+1])
		}
		out[k] = (to - at(a)) / cum[len(times)]
	}
	return out
}

// vector is the model as a vector: compressions, drag, leak, shift.
func (s starter) vector() []float64 {
	return append(append([]float64{}, s.press...), s.drag, s.leak, s.shift)
}

func starterOf(v []float64) starter {
	n := len(v) - 3
	s := starter{press: make([]float64, n), drag: v[n], leak: min(max(v[n+1], 0), 1), shift: v[n+2]}
	for k := range n {
		s.press[k] = max(v[k], 0)
	}
	return s
}

// firstStarter is where fitting begins: a dip as deep as the trace shows.
func firstStarter(n int) starter {
	s := starter{press: make([]float64, n), drag: 0, leak: leakMean}
	for k := range s.press {
		s.press[k] = 0.6 * cycleDeg / float64(n) / 100 * 0.5
	}
	return s
}

// alikeDeg is over how many degrees the model misses alike.
const alikeDeg = 40.0

// crankingNoise is the covariance of the logarithm of the shares: marks out of
// place, cycles that differ, and what the model misses. Marks close together
// miss alike, so each counts less.
func crankingNoise(c *clock, cycle crankingCycle, shape float64) *mat.SymDense {
	m := len(c.angles)
	crowd := math.Sqrt(max(1, alikeDeg*float64(m)/cycleDeg))
	s := math.Hypot(shape, cycle.spread/math.Sqrt(float64(cycle.cycles))) * crowd
	v := mat.NewSymDense(m, nil)
	for i := range m {
		v.SetSym(i, i, s*s)
	}
	marks := len(c.wheel.Angles)
	place := mat.NewDense(m, marks, nil) // mark errors → logarithm of shares
	first := c.wheelMark()
	for k := range m {
		step, _ := turnStep(c.angles, make([]float64, m), k)
		j := (first + k) % marks
		place.Set(k, j, place.At(k, j)-1/step)
		next := (j + 1) % marks
		place.Set(k, next, place.At(k, next)+1/step)
	}
	addOuter(v, place, spacingPrior(c))
	return v
}

// fitCompression places the compressions, by reference or by the best fit, and
// measures them.
func (a *analysis) fitCompression(cycle crankingCycle) compressionFit {
	l := a.setup.Layout
	v := crankingNoise(a.clock, cycle, shapeNoise)
	const tries = 12
	gap := cycleDeg / float64(l.N())
	best := compressionFit{misfit: math.Inf(1)}
	guess := 0.0
	zero, how := place(a.clock, l, a.references(), 0, false)
	a.how = how
	if how == anonymous || l.N()%2 == 1 {
		for i := range tries {
			z := gap * float64(i) / tries
			if f := a.fitAt(cycle, z, gap/tries, v); f.misfit < best.misfit {
				best, guess = f, z
			}
		}
		zero, how = place(a.clock, l, a.references(), guess, true)
		a.how = how
	}
	if how == anonymous {
		zero = guess
	}
	best = a.fitAt(cycle, zero, 4, v)
	least := min(leastShape, swingShape*cycle.swing(a.clock.angles))
	if len(a.clock.wheel.Angles) <= fewMarks {
		least = fewShape
	}
	v = crankingNoise(a.clock, cycle, max(least, best.rms))
	best = a.fitAt(cycle, zero, 4, v)
	a.tops, a.order = best.tops, best.order
	return best
}

// fitAt fits the model by Gauss–Newton steps from an even start.
func (a *analysis) fitAt(cycle crankingCycle, zero, shiftSpread float64, v *mat.SymDense) compressionFit {
	tops, order := topsOf(a.setup.Layout, zero)
	n := len(tops)
	f := compressionFit{tops: tops, order: order, misfit: math.Inf(1)}
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return f
	}
	x, best := firstStarter(n).vector(), []float64(nil)
	var step mat.VecDense
	damp := 1.0
	for range 24 {
		s := starterOf(x)
		left, jac := residuals(s, a.clock.angles, tops, cycle.shares)
		cost, info, score := normalEquations(&chol, left, jac, x, shiftSpread)
		if cost < f.misfit {
			gain := f.misfit - cost
			f.misfit, f.mean, f.rms, best = cost, s.press, rms(left), x
			f.say = marginalPress(info, score, x, n)
			damp = min(1, damp*2)
			if err := step.SolveVec(info, score); err != nil && !isCondition(err) || gain < 1e-3 {
				break
			}
		} else if damp *= 0.4; damp < 0.005 {
			break
		}
		x = slices.Clone(best)
		for i := range x {
			x[i] += damp * min(max(step.AtVec(i), -stepLimit(i, n)), stepLimit(i, n))
		}
	}
	return f
}

// stepLimit keeps a step within the reach of the linearised model.
func stepLimit(i, n int) float64 {
	if i == n+2 {
		return 6 // degrees
	}
	return 0.4
}

// residuals are the logarithms of measured over predicted shares, and their
// slopes.
func residuals(s starter, angles, tops, measured []float64) (left []float64, jac *mat.Dense) {
	base := s.shares(angles, tops)
	x := s.vector()
	left = make([]float64, len(angles))
	jac = mat.NewDense(len(angles), len(x), nil)
	for i := range left {
		left[i] = math.Log(measured[i] / base[i])
	}
	for j := range x {
		h := 0.01
		if j == len(x)-1 {
			h = 0.5
		}
		moved := append([]float64{}, x...)
		moved[j] += h
		for i, p := range starterOf(moved).shares(angles, tops) {
			jac.Set(i, j, math.Log(p/base[i])/h)
		}
	}
	return left, jac
}

// normalEquations are the Gauss–Newton equations with priors, and the cost at
// x. Compressions are held near their mean, not near a value.
func normalEquations(chol *mat.Cholesky, left []float64, jac *mat.Dense, x []float64, shiftSpread float64) (cost float64, info *mat.Dense, score *mat.VecDense) {
	n := len(x) - 3
	r := mat.NewVecDense(len(left), left)
	var vr mat.VecDense
	var vj mat.Dense
	_ = chol.SolveVecTo(&vr, r) // a bad condition shows in the cost
	_ = chol.SolveTo(&vj, jac)
	info, score = mat.NewDense(len(x), len(x), nil), mat.NewVecDense(len(x), nil)
	info.Mul(jac.T(), &vj)
	score.MulVec(jac.T(), &vr)
	cost = mat.Dot(r, &vr)
	hold := func(i int, at, spread float64) {
		p := 1 / (spread * spread)
		info.Set(i, i, info.At(i, i)+p)
		score.SetVec(i, score.AtVec(i)+p*(at-x[i]))
		cost += p * (x[i] - at) * (x[i] - at)
	}
	mean := 0.0
	for _, c := range x[:n] {
		mean += c / float64(n)
	}
	for k := range n {
		hold(k, mean, pressSpread*max(mean, 0.05))
	}
	hold(n, 0, dragSpread)
	hold(n+1, leakMean, leakSpread)
	hold(n+2, 0, shiftSpread)
	return cost, info, score
}

// marginalPress is what the data alone say of the compressions near x (their
// own prior taken out again), the other unknowns integrated.
func marginalPress(info *mat.Dense, score *mat.VecDense, x []float64, n int) quadratic {
	d := design{firings: n, cols: len(x)}
	mean := 0.0
	for _, c := range x[:n] {
		mean += c / float64(n)
	}
	p := 1 / math.Pow(pressSpread*max(mean, 0.05), 2)
	var a mat.Dense
	a.CloneFrom(info)
	b := mat.NewVecDense(len(x), nil)
	for k := range n {
		a.Set(k, k, a.At(k, k)-p)
	}
	// Score of the data alone at x, then as a quadratic in x itself.
	for i := range x {
		b.SetVec(i, score.AtVec(i))
	}
	for k := range n {
		b.SetVec(k, b.AtVec(k)-p*(mean-x[k]))
	}
	q := d.marginal(&a, b)
	var shift mat.VecDense
	shift.MulVec(q.info, mat.NewVecDense(n, append([]float64{}, x[:n]...)))
	q.score.AddVec(q.score, &shift)
	return q
}

// design is the size of a set of normal equations: the first columns are the
// compressions.
type design struct{ firings, cols int }

// marginal is the information on the first columns alone (Schur complement).
func (d design) marginal(a *mat.Dense, b *mat.VecDense) quadratic {
	n, cols := d.firings, d.cols
	rest := a.Slice(n, cols, n, cols)
	cross := a.Slice(0, n, n, cols)
	var solved mat.Dense
	q := newQuadratic(n)
	if err := solved.Solve(rest, cross.T()); err != nil && !isCondition(err) {
		return q
	}
	var taken mat.Dense
	taken.Mul(cross, &solved)
	for i := range n {
		for j := i; j < n; j++ {
			q.info.SetSym(i, j, a.At(i, j)-(taken.At(i, j)+taken.At(j, i))/2)
		}
	}
	var score mat.VecDense
	score.MulVec(solved.T(), b.SliceVec(n, cols))
	q.score.SubVec(b.SliceVec(0, n), &score)
	return q
}
