package crank

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"halforder/finding"
)

const confidence = 0.95

// quantities are speed, work of each cylinder and misfire shares.
func (a *analysis) quantities() []finding.Quantity {
	var out []finding.Quantity
	main := a.mainJudgement()
	low, high := math.Inf(1), 0.0
	for _, b := range a.bins {
		low, high = min(low, b.rpm), max(high, b.rpm)
	}
	out = append(out, finding.Quantity{Name: "engine speed", Unit: "rpm", Value: main.rpm, Low: low, High: high, Confidence: 1})
	mean, dev := a.works(main)
	for _, k := range a.inOrder() {
		out = append(out, finding.Quantity{Name: "work of " + a.slotLabel(k), Value: mean[k],
			Low: mean[k] - 1.96*dev[k], High: mean[k] + 1.96*dev[k], Confidence: confidence})
	}
	tallies := a.tallies()
	for _, k := range a.inOrder() {
		out = append(out, shareQuantity("misses of "+a.slotLabel(k), tallies[k]))
	}
	out = append(out, a.windowShares()...)
	return out
}

func (a *analysis) slotLabel(k int) string {
	if a.how == anonymous {
		return "firing " + a.slotName(k)
	}
	return "cylinder " + a.slotName(k)
}

func (a *analysis) mainJudgement() judgement {
	main := a.judged[0]
	for _, j := range a.judged {
		if j.cycles > main.cycles {
			main = j
		}
	}
	return main
}

// works are the mean work of each slot in full works (1: as the healthy ones)
// and its standard deviation, over all patterns believed.
func (a *analysis) works(j judgement) (mean, dev []float64) {
	n := len(a.tops)
	mean, dev = make([]float64, n), make([]float64, n)
	square := make([]float64, n)
	total := 0.0
	for _, p := range a.patterns {
		w := a.post.p[p]
		if w < 1e-3 {
			continue
		}
		full := j.full[p]
		bent, cov := j.bend(p, full), j.bendCov(p, full)
		total += w
		for k := range n {
			v := 1 + bent[k]/full
			mean[k] += w * v
			square[k] += w * (v*v + cov[k]/(full*full))
		}
	}
	for k := range n {
		mean[k] /= total
		dev[k] = math.Sqrt(max(0, square[k]/total-mean[k]*mean[k]))
	}
	return mean, dev
}

// bendCov is the variance left of each work around a pattern, given the data.
func (j judgement) bendCov(p slotPattern, full float64) []float64 {
	n := len(p)
	q := math.Pow(naturalBend(p)*full, 2)
	var a, inv mat.Dense
	a.Scale(q, j.work.info)
	for i := range n {
		a.Set(i, i, a.At(i, i)+1)
	}
	out := make([]float64, n)
	if err := inv.Inverse(&a); err != nil && !isCondition(err) {
		return out
	}
	for i := range n {
		out[i] = q * max(0, inv.At(i, i))
	}
	return out
}

// shareQuantity is a share with its 95 % Wilson interval.
func shareQuantity(name string, t tally) finding.Quantity {
	low, high := wilson(t.missed, t.fired)
	return finding.Quantity{Name: name, Unit: "%", Value: 100 * t.share(), Low: 100 * low, High: 100 * high, Confidence: confidence}
}

// wilson is the 95 % Wilson score interval of x in n.
func wilson(x, n int) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	const z = 1.959963984540054
	p, m := float64(x)/float64(n), float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return max(0, mid-half), min(1, mid+half)
}

// windowShares are the misfire shares of all firings: overall, and in the worst
// window of 200 and 1000 turns where the recording holds one.
func (a *analysis) windowShares() []finding.Quantity {
	var all tally
	for _, t := range a.tallies() {
		all.fired += t.fired
		all.missed += t.missed
	}
	out := []finding.Quantity{shareQuantity("misses of all firings", all)}
	for _, turns := range []int{catalystTurns, emissionTurns} {
		if t, ok := a.worstWindow(turns / 2 * len(a.tops)); ok {
			out = append(out, shareQuantity(fmt.Sprintf("misses in the worst %d turns", turns), t))
		}
	}
	return out
}

// worstWindow slides a window of so many firings over the recording.
func (a *analysis) worstWindow(firings int) (worst tally, ok bool) {
	t := tally{fired: firings}
	for i := range a.weighed {
		if a.weighed[i].miss {
			t.missed++
		}
		if i >= firings && a.weighed[i-firings].miss {
			t.missed--
		}
		if i >= firings-1 && (!ok || t.missed > worst.missed) {
			worst, ok = t, true
		}
	}
	return worst, ok
}
