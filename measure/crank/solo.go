package crank

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A wheel of few marks does not show where the engine compresses, but a dead
// cylinder shows where it should have fired: the half orders have its shape and
// owe nothing to the places of the marks. Weighed half an interval beside it its
// two neighbours would share the loss.

// soloOff is the share of an interval by which one dead cylinder may stand beside
// a firing. In simulated engines of three to eight cylinders on six marks true
// references were up to 0.25 off, those half an interval wrong from 0.35 on.
const soloOff = 0.33

// leftByTwo is the share of what one dead cylinder leaves of the half orders unexplained
// that two dead neighbours must leave to be ruled out. On such engines two neighbours
// that are dead left up to 0.35, one weighed half an interval beside it 0.57 or more.
const leftByTwo = 0.45

// Where all seem to work alike, as they may at a wrong place, one dead cylinder must
// explain the half orders but for soloAlone and lose soloLoss of what a dead one is
// expected to.
const soloAlone, soloLoss = 0.05, 0.6

// soloStep is how finely that cylinder is searched, degrees.
const soloStep = 3.0

// checkPlaces lets go of the references when one dead cylinder between two firings
// explains the half orders better than those two firings do, and weighs anew with
// a firing there.
func (a *analysis) checkPlaces() {
	if a.how == anonymous || a.confirmed || !a.setup.Layout.Even() || len(a.tops) < 2 {
		return
	}
	main := byCycles(a.bins)[0]
	h := newHalfOrders(a.clock, main, len(a.tops))
	at, left := h.solo()
	if a.post.healthy() > 1-sureMisfire && !(left < soloAlone*mat.Dot(h.seen, h.seen) && h.loss(at) > soloLoss*fullWork(len(a.tops), main.rpm)) {
		return
	}
	before, off := nearestTop(a.tops, at)
	if math.Abs(off) < soloOff*cycleDeg/float64(len(a.tops)) {
		return
	}
	beside := before + 1
	if off < 0 {
		beside = before - 1
	}
	if h.left(a.tops[before], firingAt(a.tops, beside)) < leftByTwo*left && len(a.tops) > 3 { // no engine runs on one of three
		return
	}
	why := contradiction(a.clock, a.references(), "misses a firing", off)
	if why == "" {
		return
	}
	a.nameNobody(why)
	a.weighAt(at)
	a.judge()
}

// nearestTop is the firing nearest to an angle and how far after it that lies.
func nearestTop(tops []float64, at float64) (slot int, off float64) {
	off = math.Inf(1)
	for k, top := range tops {
		if d := math.Remainder(at-top, cycleDeg); math.Abs(d) < math.Abs(off) {
			slot, off = k, d
		}
	}
	return slot, off
}

// halfOrders is what the second turn of the mean cycle does otherwise than the
// first, degrees of lateness at each mark of the wheel, freed from the firing
// order where that is a half order itself.
type halfOrders struct {
	angles []float64 // of the marks of one turn
	seen   *mat.VecDense
	swing  *mat.Dense // orthonormal columns of the firing order; nil: none
}

func newHalfOrders(c *clock, b bin, firings int) halfOrders {
	m := len(c.angles) / 2
	h := halfOrders{angles: c.angles[:m], seen: mat.NewVecDense(m, nil)}
	for k := range m {
		h.seen.SetVec(k, (b.late[k]-b.late[k+m])/2)
	}
	if firings%2 == 1 && m > 2 {
		wave := mat.NewDense(m, 2, nil)
		for k, x := range h.angles {
			sin, cos := math.Sincos(float64(firings) * x * math.Pi / 360)
			wave.SetRow(k, []float64{cos, sin})
		}
		var qr mat.QR
		qr.Factorize(wave)
		var q mat.Dense
		qr.QTo(&q)
		h.swing = mat.DenseCopyOf(q.Slice(0, m, 0, 2))
	}
	h.free(h.seen)
	return h
}

// free takes the firing order out of a vector.
func (h halfOrders) free(v *mat.VecDense) {
	if h.swing == nil {
		return
	}
	var share, part mat.VecDense
	share.MulVec(h.swing.T(), v)
	part.MulVec(h.swing, &share)
	v.SubVec(v, &part)
}

// of is what a firing at an angle that gives nothing does to the half orders.
func (h halfOrders) of(at float64) *mat.VecDense {
	v := mat.NewVecDense(len(h.angles), nil)
	for k, a := range h.angles {
		v.SetVec(k, (cycleDelay(a+turnDeg-at)-cycleDelay(a-at))/2)
	}
	h.free(v)
	return v
}

// left is the square of what dead firings at two angles leave of the half orders.
func (h halfOrders) left(one, other float64) float64 {
	a, b := h.of(one), h.of(other)
	aa, bb, ab := mat.Dot(a, a), mat.Dot(b, b), mat.Dot(a, b)
	ay, by, yy := mat.Dot(a, h.seen), mat.Dot(b, h.seen), mat.Dot(h.seen, h.seen)
	least := yy
	if det := aa*bb - ab*ab; det > 1e-9*aa*bb {
		if x, y := (ay*bb-by*ab)/det, (by*aa-ay*ab)/det; x > 0 && y > 0 {
			return max(0, yy-x*ay-y*by)
		}
	}
	for _, one := range [][2]float64{{ay, aa}, {by, bb}} {
		if one[0] > 0 && one[1] > 0 {
			least = min(least, yy-one[0]*one[0]/one[1])
		}
	}
	return max(0, least)
}

// loss is the relative energy that a dead firing at an angle loses, by the half orders.
func (h halfOrders) loss(at float64) float64 {
	a := h.of(at)
	return mat.Dot(a, h.seen) / max(mat.Dot(a, a), 1e-12)
}

// solo is the angle at which one dead firing leaves least of the half orders, and
// the square of that.
func (h halfOrders) solo() (at, left float64) {
	left = math.Inf(1)
	for x := 0.0; x < cycleDeg; x += soloStep {
		if l := h.left(x, x); l < left {
			at, left = x, l
		}
	}
	return at, left
}
