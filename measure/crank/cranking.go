package crank

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// starter is the model of an engine turned by its starter. Energy E of the
// crank is counted so that the starter brings 1 per hundred degrees at stall:
//
//	dE/dθ = 1 − drag·√E − Σ_k c_k·dW/dθ(θ−θ_k)
//
// W is what a cylinder has taken (squeezes). Of what a low one misses, a share
// is lost by leaking, which gives back far less than it took, and the rest was
// never drawn in.
type starter struct {
	press []float64 // c_k by slot: peak pressures, in energy taken by a tight cylinder of that pressure
	drag  float64   // ln of the loss of pull with speed
	leak  float64   // share of what is missing that leaks
	shift float64   // degrees by which all top dead centres are late
	good  float64   // c of a good one
}

// The priors of the model, one sigma.
const (
	pressSpread = 0.45 // of a compression, of their mean
	dragSpread  = 1.0  // of ln drag
	leakMean    = 0.7  // rings, valves and gaskets leak; few cylinders fill badly (judgement)
	leakSpread  = 0.3
	shapeNoise  = 0.03  // share of an interval that the model misses, before a fit has shown it
	leastShape  = 0.006 // afterwards, on a toothed wheel
	swingShape  = 0.04  // or this share of the swing of a crank that turns more evenly
	fewShape    = 0.015 // on few marks: the fit has little left to show it
	learntShape = 0.04  // on marks learnt from the engine, which stand some degrees elsewhere
)

const crankStep = 3.0 // degrees of integration

// shares predicts the share of the cycle's time between marks.
func (s starter) shares(angles, tops []float64) []float64 {
	n := int(cycleDeg / crankStep)
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
	for k, top := range tops {
		at := (top + s.shift - drawDeg) / crankStep
		whole := math.Floor(at)
		part := at - whole
		for j, slope := range s.squeeze(s.press[k]) {
			i := wrapIndex(int(whole)+j, n)
			// The top falls between two steps: mix them.
			out[i] += slope * (1 - part)
			out[(i+1)%n] += slope * part
		}
	}
	return out
}

// squeeze is what one cylinder takes, by steps from the start of drawing in.
func (s starter) squeeze(press float64) []float64 {
	t := squeezes()
	at := min(press/s.good/squeezeStep, float64(len(t.leaking))-1.001)
	i, part := int(at), at-math.Floor(at)
	out := make([]float64, len(t.leaking[0]))
	for j := range out {
		leaking := t.leaking[i][j]*(1-part) + t.leaking[i+1][j]*part
		starved := t.starved[i][j]*(1-part) + t.starved[i+1][j]*part
		out[j] = s.good * (s.leak*leaking + (1-s.leak)*starved)
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
	s.good = goodOf(s.press)
	return s
}

// goodOf is about what the good of some compressions have: a mean that high
// ones rule, smooth in each.
func goodOf(press []float64) float64 {
	sum := 0.0
	for _, c := range press {
		sum += math.Pow(c, 8) / float64(len(press))
	}
	return max(1e-4, math.Pow(sum, 1.0/8))
}

// firstStarter is where fitting begins: a dip as deep as the trace shows.
func firstStarter(n int) starter {
	s := starter{press: make([]float64, n), drag: 0, leak: leakMean}
	for k := range s.press {
		s.press[k] = 0.6 * cycleDeg / float64(n) / 100 * 0.5
	}
	s.good = s.press[0]
	return s
}

// fitCompression measures the compressions.
func (a *analysis) fitCompression(cycle crankingCycle) compressionFit {
	first := a.moveMarks(cycle, a.whereCompressed(cycle, a.firstFit(cycle, shapeNoise)))
	seen := a.covariance(cycle, first.tops).likeliest(first.left, a.leastMiss(cycle))
	best := a.fitAt(cycle, first.zero, topSpread, seen, first.at)
	a.tops, a.order = best.tops, best.order
	return best
}

// topSpread is how far top dead centres may stand beside their place, degrees.
const topSpread = 4.0

// firstFit places the compressions, by reference or by the best fit, and fits
// them, the model taken to miss so much.
func (a *analysis) firstFit(cycle crankingCycle, miss float64) compressionFit {
	l := a.setup.Layout
	guess := 0.0
	zero, how := place(a.clock, l, a.references(), 0, false)
	if how == anonymous || l.N()%2 == 1 {
		guess = a.searchCompressions(cycle, miss).zero
		zero, how = place(a.clock, l, a.references(), guess, true)
	}
	if how == anonymous {
		zero = guess
	}
	a.how = how
	return a.fitAt(cycle, zero, topSpread, misses{miss, miss}, nil)
}

// leastMiss is the least that the model is taken to miss of a share.
func (a *analysis) leastMiss(cycle crankingCycle) float64 {
	w := a.clock.wheel
	switch {
	case w.Learn && !a.clock.nominal && !a.movedMarks:
		return learntShape
	case len(w.Angles) <= fewMarks:
		return fewShape
	}
	return min(leastShape, swingShape*cycle.swing(a.clock.angles))
}

// fitAt fits the model by damped Gauss–Newton steps from x on, nil: from an even
// start.
func (a *analysis) fitAt(cycle crankingCycle, zero, shiftSpread float64, miss misses, x []float64) compressionFit {
	tops, order := topsOf(a.setup.Layout, zero)
	n := len(tops)
	f := compressionFit{zero: zero, tops: tops, order: order, misfit: math.Inf(1)}
	var chol mat.Cholesky
	if !chol.Factorize(a.covariance(cycle, tops).of(miss)) {
		return f
	}
	if x == nil {
		x = firstStarter(n).vector()
	}
	var info *mat.Dense
	var score *mat.VecDense
	damp := 1e-3
	for range mostSteps {
		s := starterOf(x)
		left, jac := residuals(s, a.clock.angles, tops, cycle.shares)
		cost, nextInfo, nextScore := normalEquations(&chol, left, jac, x, shiftSpread)
		gain := f.misfit - cost
		if gain > 0 {
			f.misfit, f.mean, f.left, f.at, info, score = cost, s.press, left, x, nextInfo, nextScore
			damp /= 5
		} else {
			damp *= 8
		}
		if gain > 0 && gain < 1e-3 || damp > 1e4 || info == nil {
			break
		}
		x = damped(info, score, f.at, damp)
	}
	if info != nil {
		f.say = marginalPress(info, score, f.at, n)
	}
	return f
}

// mostSteps bounds a fit.
const mostSteps = 40

// damped is a Gauss–Newton step from x, shortened by a share of the information.
func damped(info *mat.Dense, score *mat.VecDense, x []float64, damp float64) []float64 {
	var held mat.Dense
	held.CloneFrom(info)
	for i := range x {
		held.Set(i, i, info.At(i, i)*(1+damp))
	}
	out := slices.Clone(x)
	var step mat.VecDense
	if err := step.SolveVec(&held, score); err != nil && !isCondition(err) {
		return out
	}
	for i := range out {
		most := stepLimit(i, len(x)-3)
		out[i] += min(max(step.AtVec(i), -most), most)
	}
	return out
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
