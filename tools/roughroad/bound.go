package roughroad

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// How far before and after a firing Bound looks, degrees, and how finely it
// follows torque.
const (
	boundBefore = 3 * cycleDeg
	boundAfter  = 3 * cycleDeg
	boundStep   = 6.0
)

// Bound is the share of single misses that the best possible detector finds at a
// share of false alarms, at a steady speed: one that knows the engine, the place
// of each mark, the shape of a burn, how much road, belt, firings and edges
// scatter, and that no other firing missed; everything but the dice. It is the
// matched filter in noise of known covariance (published: Kay, Detection Theory,
// 4.4), the mean over the firings of a cycle.
func (e Engine) Bound(falseAlarms float64) float64 {
	normal := distuv.UnitNormal
	z := normal.Quantile(1 - falseAlarms)
	sum := 0.0
	n := e.Layout.N()
	for k := range n {
		sigma := e.newTape().missScatter(k)
		sound := math.Hypot(sigma, e.Cycle) // sound firings scatter, misses do not
		sum += normal.CDF((1 - z*sound) / sigma)
	}
	return sum / float64(n)
}

// missScatter is the scatter of the best estimate of a firing's work, in works,
// apart from its own.
func (r *tape) missScatter(position int) float64 {
	e := r.e
	rpm := e.RPM(0)
	omega := rpm * math.Pi / 30
	each := e.Load * (70 + 8*math.Pow(rpm/1000, 2))
	from := r.tops[position] - boundBefore
	marks := r.marksWithin(from, r.tops[position]+boundAfter)
	n := len(marks)
	v := mat.NewSymDense(n, nil)
	edge := e.Jitter * 6 * rpm
	for i := range n {
		v.SetSym(i, i, edge*edge)
	}
	energy := inertiaEach * float64(len(r.tops)) * omega * omega / 2
	late := func(torque func(a float64) float64) *mat.VecDense {
		return lateness(marks, from, torque, energy, omega)
	}
	r.addFirings(v, late, from, position, each)
	r.addRoad(v, late, from, omega)
	for _, phase := range []float64{0, math.Pi / 2} {
		v.SymRankOne(v, e.Belt*e.Belt, late(func(a float64) float64 {
			return math.Cos(2*math.Pi*e.BeltHz*(a-from)/(6*rpm) - phase)
		}))
	}
	for _, p := range []float64{0, 1} { // when it began and how fast
		v.SymRankOne(v, 100, mat.NewVecDense(n, column(marks, func(a float64) float64 { return math.Pow((a-from)/cycleDeg, p) })))
	}
	own := late(r.burnAt(r.tops[position], each))
	var chol mat.Cholesky
	var f mat.VecDense
	if !chol.Factorize(v) || chol.SolveVecTo(&f, own) != nil {
		return math.NaN()
	}
	return 1 / math.Sqrt(mat.Dot(&f, own))
}

func column(at []float64, f func(a float64) float64) []float64 {
	out := make([]float64, len(at))
	for i, a := range at {
		out[i] = f(a)
	}
	return out
}

func (r *tape) marksWithin(from, to float64) (out []float64) {
	for turn := math.Floor(from/turnDeg) * turnDeg; turn < to; turn += turnDeg {
		for _, m := range r.e.Marks {
			if a := turn + m; a >= from && a < to {
				out = append(out, a)
			}
		}
	}
	return out
}

// burnAt is the torque of a burn from a top dead centre on.
func (r *tape) burnAt(top, each float64) func(a float64) float64 {
	return func(a float64) float64 {
		if x := a - top; x >= 0 && x < 200 {
			return each * burn[int(x/step)]
		}
		return 0
	}
}

// addFirings lets all other firings scatter from cycle to cycle.
func (r *tape) addFirings(v *mat.SymDense, late func(func(float64) float64) *mat.VecDense, from float64, position int, each float64) {
	for cycle := math.Floor(from/cycleDeg) - 1; cycle*cycleDeg < r.tops[position]+boundAfter; cycle++ {
		for _, top := range r.tops {
			if at := cycle*cycleDeg + top; math.Abs(at-r.tops[position]) > 1 {
				v.SymRankOne(v, r.e.Cycle*r.e.Cycle, late(r.burnAt(at, each)))
			}
		}
	}
}

// addRoad lets the torque of the road walk as Run does: each piece of it fades
// at 40 a second.
func (r *tape) addRoad(v *mat.SymDense, late func(func(float64) float64) *mat.VecDense, from, omega float64) {
	const fade = 40.0
	perDeg := fade * math.Pi / 180 / omega
	for at := from - 3/perDeg; at < r.tops[len(r.tops)-1]+boundAfter && r.e.Road > 0; at += boundStep {
		share := 2 * perDeg * boundStep
		v.SymRankOne(v, r.e.Road*r.e.Road*share, late(func(a float64) float64 {
			if a < at {
				return 0
			}
			return math.Exp(-perDeg * (a - at))
		}))
	}
}

// lateness is by how many degrees the marks come late when a torque in N·m works
// on the crank and the brake answers to speed.
func lateness(marks []float64, from float64, torque func(a float64) float64, energy, omega float64) *mat.VecDense {
	const fine = boundStep / 2
	out := mat.NewVecDense(len(marks), nil)
	gained, late, at := 0.0, 0.0, from-360
	for i, m := range marks {
		for at < m {
			d := min(fine, m-at)
			gained += (torque(at+d/2) - 2.5*gained/omega) * d * math.Pi / 180
			late -= gained / energy / 2 * d
			at += d
		}
		out.SetVec(i, late)
	}
	return out
}
