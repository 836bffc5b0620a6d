package crank

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// alikeDeg is over how many degrees the model misses alike.
const alikeDeg = 40.0

// misses are by how much the model misses the logarithm of a share: in all
// cylinders alike, as another stroke, other valve times or another starter do,
// and in each on its own.
type misses struct{ common, own float64 }

// crankingNoise is the covariance of the logarithm of the shares that the model
// has no part in: marks out of place and cycles that differ.
func crankingNoise(c *clock, cycle crankingCycle) *mat.SymDense {
	m := len(c.angles)
	s := cycle.spread / math.Sqrt(float64(cycle.cycles)) * crowd(m)
	v := mat.NewSymDense(m, nil)
	for i := range m {
		v.SetSym(i, i, s*s)
	}
	addOuter(v, markPlaces(c), spacingPrior(c))
	return v
}

// markPlaces maps the errors of the marks, degrees, to the logarithms of the
// shares.
func markPlaces(c *clock) *mat.Dense {
	m, marks := len(c.angles), len(c.wheel.Angles)
	place := mat.NewDense(m, marks, nil)
	first := c.wheelMark()
	still := make([]float64, m)
	for k := range m {
		step, _ := turnStep(c.angles, still, k)
		j := (first + k) % marks
		place.Set(k, j, place.At(k, j)-1/step)
		next := (j + 1) % marks
		place.Set(k, next, place.At(k, next)+1/step)
	}
	return place
}

// crowd is by how much less each of many marks counts when those within
// alikeDeg tell the same.
func crowd(marks int) float64 { return math.Sqrt(max(1, alikeDeg*float64(marks)/cycleDeg)) }

// unevenShare is the share of a miss that the next mark does not share; it
// keeps the covariance well conditioned.
const unevenShare = 0.01

// ownMisses is the covariance, of variance one, of what each cylinder misses on
// its own: marks within alikeDeg alike.
func ownMisses(angles []float64) *mat.SymDense {
	m := len(angles)
	v := mat.NewSymDense(m, nil)
	middle := middles(angles)
	for i := range m {
		for j := i; j < m; j++ {
			apart := math.Remainder(middle[i]-middle[j], cycleDeg) / alikeDeg
			v.SetSym(i, j, math.Exp(-apart*apart/2))
		}
		v.SetSym(i, i, 1+unevenShare)
	}
	return v
}

// middles are the angles midway between marks.
func middles(angles []float64) []float64 {
	still, out := make([]float64, len(angles)), make([]float64, len(angles))
	for k := range angles {
		step, _ := turnStep(angles, still, k)
		out[k] = angles[k] + step/2
	}
	return out
}

// commonMisses is the covariance, of variance one, of what every cylinder adds
// alike around its own top dead centre, smooth over alikeDeg.
func commonMisses(angles, tops []float64) *mat.SymDense {
	m := len(angles)
	v := mat.NewSymDense(m, nil)
	middle := middles(angles)
	total := 0.0
	for order := 0.5; order*alikeDeg < 180; order += 0.5 {
		turn := order * math.Pi / 180
		var beat complex128
		for _, top := range tops {
			beat += cmplx.Rect(1, turn*top)
		}
		smooth := math.Exp(-math.Pow(turn*alikeDeg, 2) / 2)
		power := smooth * math.Pow(cmplx.Abs(beat)/float64(len(tops)), 2)
		total += power
		for i := range m {
			for j := i; j < m; j++ {
				v.SetSym(i, j, v.At(i, j)+power*math.Cos(turn*(middle[i]-middle[j])))
			}
		}
	}
	v.ScaleSym(1/max(total, 1e-12), v)
	return v
}

// crankingCovariance is what the logarithms of the shares may stray by.
type crankingCovariance struct{ noise, own, common *mat.SymDense }

func (a *analysis) covariance(cycle crankingCycle, tops []float64) crankingCovariance {
	return crankingCovariance{crankingNoise(a.clock, cycle), ownMisses(a.clock.angles), commonMisses(a.clock.angles, tops)}
}

func (c crankingCovariance) of(miss misses) *mat.SymDense {
	m := c.noise.SymmetricDim()
	v := mat.NewSymDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			v.SetSym(i, j, c.noise.At(i, j)+miss.own*miss.own*c.own.At(i, j)+miss.common*miss.common*c.common.At(i, j))
		}
	}
	return v
}

// likeliest are the misses that explain best what a fit has left.
func (c crankingCovariance) likeliest(left []float64, least float64) misses {
	best, at := math.Inf(-1), misses{}
	r := mat.NewVecDense(len(left), left)
	for own := least; own < 0.3; own *= 1.6 {
		for common := least; common < 0.3; common *= 1.6 {
			var chol mat.Cholesky
			var weighed mat.VecDense
			if !chol.Factorize(c.of(misses{common, own})) {
				continue
			}
			if err := chol.SolveVecTo(&weighed, r); err != nil && !isCondition(err) {
				continue
			}
			if l := -(chol.LogDet() + mat.Dot(r, &weighed)) / 2; l > best {
				best, at = l, misses{common, own}
			}
		}
	}
	return at
}
