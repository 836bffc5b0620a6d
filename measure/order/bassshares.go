package order

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"halforder/engine"
)

// bassShares is what a cut tells of every cylinder in the low band, sound wave
// by sound wave: before = Σ shares · what the cut took away, turned to each slot.
// Neither the delay of the bass nor its path matters, for the cut one came the
// same way. Where all alike work, orders between the firing orders are silent
// before the cut and loud in it.
type bassShares struct {
	slots  []int     // but the cut one: what went with the cut is in its share twice
	shares []float64 // of these
	laws   []gauss   // the first that of a spoilt band
}

// bassShares by how many are dead already, 0 to 2: by it what the others gain in
// the cut is told from the firing orders. Nil where the sound does not settle it.
func (f *folded) bassShares(during []cycle, slot int) []bassShares {
	n := f.layout.N()
	if len(during) < heldCycles || n < 3 {
		return nil
	}
	low := fold(during, 0, f.harmonics)
	changed := pathSlope * math.Log(meanSeconds(during)/meanSeconds(f.cycles))
	var out []bassShares
	for dead := range min(3, n-1) {
		b, ok := f.bassOf(low, slot, dead, math.Hypot(orderError, changed))
		if !ok {
			return nil
		}
		out = append(out, b)
	}
	return out
}

const (
	orderError = 0.2 // what is unknown of one firing's share of an order, against it. Judgement
	pathSlope  = 2.0 // power of the frequency by which a path changes: 12 dB an octave, near a resonance. Judgement
)

func meanSeconds(cycles []cycle) (mean float64) {
	for _, c := range cycles {
		mean += c.seconds / float64(len(cycles))
	}
	return mean
}

// bassOf solves for the shares by least squares, each order weighted by how well
// it is known, and takes the errors from what is left.
func (f *folded) bassOf(low picture, slot, dead int, unknown float64) (bassShares, bool) {
	n, angles := f.layout.N(), f.layout.Angles()
	gain := f.bassGain(low, n-dead)
	ata, atb := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	var rows [][]complex128
	var heard []complex128
	for h := 1; h <= min(shareFirings*n, f.harmonics); h++ {
		noise := f.bands[0].noise[h-1] + low.noise[h-1]
		if h == turnHarmonic || noise == 0 || absPhasor(f.layout, h) > 1e-6 {
			continue
		}
		before := f.bands[0].mean[h-1]
		one := before - low.mean[h-1]/complex(gain, 0)
		weight := complex(1/math.Sqrt(noise+unknown*unknown*sq(one)), 0)
		row := make([]complex128, n)
		for k := range row {
			turn := float64((angles[k] - angles[slot]) / engine.CycleDeg)
			row[k] = weight * one * cmplx.Rect(1, -2*math.Pi*float64(h)*turn)
		}
		for i := range n {
			for j := i; j < n; j++ {
				ata.SetSym(i, j, ata.At(i, j)+real(cmplx.Conj(row[i])*row[j]))
			}
			atb.SetVec(i, atb.AtVec(i)+real(cmplx.Conj(row[i])*weight*before))
		}
		rows, heard = append(rows, row), append(heard, weight*before)
	}
	if 2*len(rows) < n {
		return bassShares{}, false
	}
	for i, ridge := 0, bassRidge*mat.Trace(ata)/float64(n); i < n; i++ {
		ata.SetSym(i, i, ata.At(i, i)+ridge)
	}
	var root mat.Cholesky
	var x mat.VecDense
	var inverse mat.SymDense
	if !root.Factorize(ata) || root.SolveVecTo(&x, atb) != nil || root.InverseTo(&inverse) != nil {
		return bassShares{}, false
	}
	left := 0.0
	for i, row := range rows {
		rest := heard[i]
		for k, v := range row {
			rest -= v * complex(x.AtVec(k), 0)
		}
		left += sq(rest)
	}
	misfit := max(1, 2*left/float64(2*len(rows)-n+1))
	return newBassShares(&x, &inverse, misfit, slot), true
}

// bassRidge keeps small what no order tells: the part all cylinders share.
const bassRidge = 1e-3

func newBassShares(x *mat.VecDense, covariance *mat.SymDense, misfit float64, slot int) bassShares {
	var b bassShares
	var variances []float64
	for k := range x.Len() {
		if k == slot {
			continue
		}
		b.slots, b.shares = append(b.slots, k), append(b.shares, x.AtVec(k))
		variances = append(variances, misfit*withoutMean(covariance, k))
	}
	with := func(path float64) []float64 {
		out := make([]float64, len(variances))
		for i, v := range variances {
			out[i] = v + path*path
		}
		return out
	}
	b.laws = append(b.laws, newGauss(stray, with(strayWidth)))
	for _, s := range lowPath {
		b.laws = append(b.laws, newGauss(s.weight*(1-stray), with(s.value)))
	}
	return b
}

// withoutMean is the variance of value k less the mean of all.
func withoutMean(covariance *mat.SymDense, k int) float64 {
	n := covariance.SymmetricDim()
	var row, all float64
	for i := range n {
		row += covariance.At(k, i) / float64(n)
		for j := range n {
			all += covariance.At(i, j) / float64(n*n)
		}
	}
	return covariance.At(k, k) - 2*row + all
}

// bassGain is how much more each of the others does in a cut of one of so many
// workers, by the orders to which all add up.
func (f *folded) bassGain(during picture, workers int) float64 {
	var a, b float64
	for h := 1; h <= min(shareFirings*f.layout.N(), f.harmonics); h++ {
		if absPhasor(f.layout, h) > (1-1e-6)*float64(f.layout.N()) {
			a, b = a+sq(f.bands[0].mean[h-1]), b+sq(during.mean[h-1])
		}
	}
	if a == 0 {
		return loadGain(workers)
	}
	return min(max(math.Sqrt(b/a)*float64(workers)/float64(max(workers-1, 1)), leastGain), mostGain)
}

const leastGain = 0.8

// logLikelihood of what the slots do, less that of all working. What is lacking
// shows at some depth, the same in all.
func (b bassShares) logLikelihood(work []float64) float64 {
	if b.laws == nil {
		return 0
	}
	return b.depths(work, shareDepth) - b.depths(work, prior{{0, 1}})
}

func (b bassShares) depths(work []float64, depths prior) float64 {
	terms := []float64{b.laws[0].log(b.shares)}
	x := make([]float64, len(b.shares))
	for _, d := range depths {
		for i, k := range b.slots {
			x[i] = b.shares[i] + d.value*(1-work[k])
		}
		for _, law := range b.laws[1:] {
			terms = append(terms, math.Log(d.weight)+law.log(x))
		}
	}
	return logSum(terms)
}
