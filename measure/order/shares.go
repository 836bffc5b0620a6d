package order

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// spectrumPair is one harmonic of one band before and during a cut.
type spectrumPair struct {
	h              int
	before, during complex128
	weight         float64
}

const (
	shareFirings = 3    // firing orders used
	shareRidge   = 1e-4 // keeps the solution small where nothing is known
)

// curvePairs gives the harmonics of the bands but the firing orders: there all
// cylinders add up whatever their share, and so does what is not combustion.
func curvePairs(before, during *heardWork, n int) []spectrumPair {
	var out []spectrumPair
	for b := range before.sums {
		a, d := before.curve(b), during.curve(b)
		from, power := len(out), 0.0
		for h := 1; h <= shareFirings*n; h++ {
			if h%n == 0 {
				continue
			}
			p := spectrumPair{h: h, before: harmonicOf(a, h), during: harmonicOf(d, h)}
			power += sq(p.before) + sq(p.during)
			out = append(out, p)
		}
		for i := range out[from:] {
			out[from+i].weight = 1 / max(power, 1e-300)
		}
	}
	return out
}

func harmonicOf(x []float64, h int) complex128 {
	var sum complex128
	for p, v := range x {
		sum += complex(v, 0) * cmplx.Rect(1, -2*math.Pi*float64(h*p)/float64(len(x)))
	}
	return sum / complex(float64(len(x)), 0)
}

// sharesOf gives how much every slot does, in units of the cut one and up to a
// common constant. What one firing sounds like is what the cut took away:
// before − during/gain. The sound before is a sum of these, one each slot, so
// the shares follow by least squares.
func sharesOf(pairs []spectrumPair, slot, n int, gain float64) ([]float64, bool) {
	ata, atb := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	row := make([]complex128, n)
	for _, p := range pairs {
		one := p.before - p.during/complex(gain, 0)
		for k := range row {
			row[k] = one * cmplx.Rect(1, -2*math.Pi*float64(p.h*(k-slot))/float64(n))
		}
		for i := range n {
			for j := i; j < n; j++ {
				ata.SetSym(i, j, ata.At(i, j)+p.weight*real(cmplx.Conj(row[i])*row[j]))
			}
			atb.SetVec(i, atb.AtVec(i)+p.weight*real(cmplx.Conj(row[i])*p.before))
		}
	}
	for i := range n {
		ata.SetSym(i, i, ata.At(i, i)+shareRidge)
	}
	var x mat.VecDense
	if x.SolveVec(ata, atb) != nil {
		return nil, false
	}
	return append([]float64(nil), x.RawVector().Data...), true
}

// loadGain is how much more the others do when one of so many workers is cut,
// to keep the engine idling.
func loadGain(workers int) float64 {
	return min(float64(workers)/float64(max(workers-1, 1)), mostGain)
}

const mostGain = 1.6

// What a share may be off by, and how deep a dead cylinder shows in it: noise
// between the firings hides a part. Judgement (prior).
var (
	shareSpread = prior{{0.05, 0.25}, {0.10, 0.40}, {0.20, 0.25}, {0.40, 0.10}}
	shareDepth  = prior{{0.45, 0.2}, {0.60, 0.2}, {0.80, 0.3}, {1.0, 0.3}}
)

const shareTail = 4.0 // degrees of freedom

// shareLikelihood weighs a pattern of work against shares; both by slot.
func shareLikelihood(shares, work []float64) float64 {
	var working []float64
	for k, w := range work {
		if w == 1 {
			working = append(working, shares[k])
		}
	}
	if len(working) == 0 {
		return math.Inf(-1)
	}
	usual := median(working)
	sum := math.Inf(-1)
	for _, s := range shareSpread {
		for _, d := range shareDepth {
			log := math.Log(s.weight * d.weight)
			for k, w := range work {
				z := (shares[k] - usual + d.value*(1-w)) / s.value
				if w == 1 && z > 0 {
					z /= 2 // a loud way to the microphone accuses nobody
				}
				log -= math.Log1p(z*z/shareTail)*(shareTail+1)/2 + math.Log(s.value)
			}
			sum = logAdd(sum, log)
		}
	}
	return sum
}
