package crank

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Marks learnt from a cranked engine stand where its own unevenness puts them,
// up to some fifteen degrees off. What the model of cranking leaves of the shares
// tells where they stand instead, up to what repeats each turn; the nearer they
// come, the less the model misses.

// movedTimes is how often marks are moved: the shares answer to their places not
// quite linearly.
const movedTimes = 3

// leastStep is the least angle that moving may leave between marks, degrees.
const leastStep = 3.0

// fewestPerFiring is how many marks a firing must have for them to be moved: on
// fewer a weak compression soon looks like marks elsewhere.
const fewestPerFiring = 3

// moveMarks moves learnt marks to where they most likely stand.
func (a *analysis) moveMarks(cycle crankingCycle, fit compressionFit) compressionFit {
	if w := a.clock.wheel; !w.Learn || a.clock.nominal || len(a.clock.angles) < fewestPerFiring*len(fit.tops) {
		return fit
	}
	for range movedTimes {
		off, ok := a.marksOff(cycle, fit)
		if !ok || !a.clock.moved(off) {
			return fit
		}
		fit = a.fitAt(cycle, fit.zero, topSpread, misses{shapeNoise, shapeNoise}, fit.at)
	}
	a.movedMarks = true
	return fit
}

// marksOff is by how many degrees each mark of the wheel most likely stands
// later than taken, given what a fit leaves.
func (a *analysis) marksOff(cycle crankingCycle, fit compressionFit) (off []float64, ok bool) {
	var chol mat.Cholesky
	var left, marks, out mat.VecDense
	if !chol.Factorize(a.covariance(cycle, fit.tops).of(misses{shapeNoise, shapeNoise})) {
		return nil, false
	}
	if err := chol.SolveVecTo(&left, mat.NewVecDense(len(fit.left), fit.left)); err != nil && !isCondition(err) {
		return nil, false
	}
	marks.MulVec(markPlaces(a.clock).T(), &left)
	out.MulVec(spacingPrior(a.clock), &marks)
	return out.RawVector().Data, true
}

// moved puts the marks of the wheel so many degrees later, the first of the
// cycle staying; false and unchanged when they would not follow one another.
func (c *clock) moved(off []float64) bool {
	m := len(c.wheel.Angles)
	first := c.wheelMark()
	wheel := make([]float64, m)
	for j, a := range c.wheel.Angles {
		wheel[j] = a + off[j] - off[first]
	}
	zero := wheel[0]
	for j := range wheel {
		wheel[j] -= zero
		if j > 0 && wheel[j]-wheel[j-1] < leastStep {
			return false
		}
	}
	if turnDeg-wheel[m-1] < leastStep {
		return false
	}
	c.wheel.Angles, c.fromGap = wheel, wheel[first]
	for k := range c.angles {
		turns := math.Floor(float64(first+k) / float64(m))
		c.angles[k] = turnDeg*turns + wheel[(first+k)%m] - wheel[first]
	}
	return true
}
