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
	for i, w := range a.weighed {
		if w.miss {
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

// series are the plots: speed over the cycle, work bars, misses over time.
func (a *analysis) series() []finding.Series {
	out := []finding.Series{a.speedSeries(), a.workSeries()}
	return append(out, a.missSeries())
}

// speedSeries is the speed over the mean cycle against its mean, in percent,
// with the firings named on the axis.
func (a *analysis) speedSeries() finding.Series {
	b := mainBins(a.bins, 1)[0]
	s := finding.Series{Title: fmt.Sprintf("Speed over the cycle at %.0f rpm", b.rpm), Shape: finding.Line,
		XName: "crank angle", XUnit: "°", YName: "against mean", YUnit: "%"}
	angles := append(append([]float64{}, a.clock.angles...), cycleDeg)
	late := append(append([]float64{}, b.late...), 0)
	next := 0
	for i := 1; i < len(angles); i++ {
		label := ""
		for next < len(a.tops) && a.tops[next] < angles[i] {
			label += a.slotLabel(next)
			next++
		}
		step := angles[i] - angles[i-1]
		s.X = append(s.X, angles[i-1]+step/2)
		s.Y = append(s.Y, -100*(late[i]-late[i-1])/step)
		s.Labels = append(s.Labels, label)
	}
	return s
}

func (a *analysis) workSeries() finding.Series {
	s := finding.Series{Title: "Work of each cylinder", Shape: finding.Bars, XName: "cylinder, in firing order", YName: "share of a healthy one"}
	mean, dev := a.works(a.mainJudgement())
	for i, k := range a.inOrder() {
		s.X = append(s.X, float64(i+1))
		s.Y = append(s.Y, mean[k])
		s.Low = append(s.Low, mean[k]-1.96*dev[k])
		s.High = append(s.High, mean[k]+1.96*dev[k])
		s.Labels = append(s.Labels, a.slotName(k))
	}
	return s
}

// mostBars bounds the bars of the time line.
const mostBars = 120

func (a *analysis) missSeries() finding.Series {
	s := finding.Series{Title: "Misses over time", Shape: finding.Bars, XName: "time", XUnit: "s", YName: "misses"}
	if len(a.weighed) == 0 {
		return s
	}
	from, to := a.weighed[0].at, a.weighed[len(a.weighed)-1].at
	width := math.Max(1, math.Ceil((to-from)/mostBars))
	bars := make([]float64, 1+int((to-from)/width))
	for _, w := range a.weighed {
		if w.miss {
			bars[int((w.at-from)/width)]++
		}
	}
	for i, n := range bars {
		s.X = append(s.X, from+(float64(i)+0.5)*width)
		s.Y = append(s.Y, n)
	}
	s.YName = fmt.Sprintf("misses per %.0f s", width)
	return s
}
