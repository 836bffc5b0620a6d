package crank

import (
	"math"
	"slices"
)

// counted follows a wheel by number alone, where the cam shows that all its
// marks and no others passed from cycle to cycle. A starter that hangs in each
// compression lets teeth look like gaps and gaps like teeth; over many cycles
// the gap still stands out. ok is false when the numbers do not hold or the
// marks do not fit the wheel.
func counted(w Wheel, rec Recording) (dec decoded, ok bool) {
	w = w.settle()
	m := w.Marks()
	if m < 1 || !w.Known() && !w.Learn {
		return decoded{}, false
	}
	from, to := countedStretch(rec, 2*m)
	if to-from < minCycles*2*m {
		return decoded{}, false
	}
	edges := rec.Crank[from:to]
	spans := usualSpans(edges, 2*m)
	if w.Learn {
		w = learntFrom(spans)
	}
	first, ok := rotationOf(w, spans)
	return decoded{wheel: w, runs: []run{{first: first, t: edges}}}, ok
}

// countedStretch is the longest run of edges between cam edges, p of them a
// cycle, along which as many edges pass as the cycles have marks; one more or
// less where a cam edge falls beside a crank edge.
func countedStretch(rec Recording, perCycle int) (from, to int) {
	at := passedAt(rec.Crank, rec.Cam)
	for p := 1; p <= 12; p++ {
		for i := 0; i+minCycles*p < len(at); i++ {
			j, want := i, at[i]+perCycle
			for ; j+p < len(at) && at[j+p] >= want-1 && at[j+p] <= want+1; j += p {
				want += perCycle
			}
			if j > i && at[j]-at[i] > to-from {
				from, to = at[i], at[j]
			}
			i = max(i, j-p)
		}
	}
	return from, to
}

// passedAt is how many crank edges passed before each cam edge.
func passedAt(crank, cam []float64) []int {
	at := make([]int, 0, len(cam))
	passed := 0
	for _, t := range cam {
		for passed < len(crank) && crank[passed] < t {
			passed++
		}
		at = append(at, passed)
	}
	return at
}

// usualSpans is the logarithm of the usual share of each interval in its cycle.
func usualSpans(edges []float64, perCycle int) []float64 {
	logs := make([][]float64, perCycle)
	for i := 0; i+perCycle < len(edges); i++ {
		cycle := edges[i+perCycle] - edges[i]
		logs[i%perCycle] = append(logs[i%perCycle], math.Log((edges[i+1]-edges[i])/cycle))
	}
	out := make([]float64, perCycle)
	for k, l := range logs {
		out[k] = median(l)
	}
	return out
}

// learntFrom is the uneven wheel whose steps are the mean spans of both turns.
func learntFrom(spans []float64) Wheel {
	m := len(spans) / 2
	w := Wheel{Positions: m, Learn: true, Angles: make([]float64, m)}
	steps := make([]float64, m)
	total := 0.0
	for k := range m {
		steps[k] = math.Exp((spans[k] + spans[k+m]) / 2)
		total += steps[k]
	}
	for k := range m - 1 {
		w.Angles[k+1] = w.Angles[k] + turnDeg*steps[k]/total
	}
	return w
}

// A rotation is believed when the speed it leaves runs so much smoother than by
// the next best, and when in the mean of both turns no step stands out from its
// neighbours as a missing mark would, ln 1.6.
const (
	muchSmoother = 0.7
	likeAGap     = 0.47
)

// rotationOf is the number on the wheel of the mark that begins the first span.
func rotationOf(w Wheel, spans []float64) (first int, ok bool) {
	steps := w.steps()
	m := len(steps)
	best, second := math.Inf(1), math.Inf(1)
	for turned := range m {
		rough := jumps(slownessBy(steps, spans, turned))
		switch {
		case rough < best:
			best, second, first = rough, best, turned
		case rough < second:
			second = rough
		}
	}
	if periodic(w) || w.Learn { // any beginning is as good
		first = 0
	} else if best > muchSmoother*second {
		return 0, false
	}
	slow := slownessBy(steps, spans, first)
	for k := range m {
		mean := func(i int) float64 { return (slow[wrapIndex(i, 2*m)] + slow[wrapIndex(i+m, 2*m)]) / 2 }
		if !w.Learn && math.Abs(mean(k)-(mean(k-1)+mean(k+1))/2) > likeAGap {
			return 0, false
		}
	}
	return first, true
}

// slownessBy is the logarithm of the slowness in each span when the first begins
// at mark number turned.
func slownessBy(steps, spans []float64, turned int) []float64 {
	out := slices.Clone(spans)
	for k := range out {
		out[k] -= math.Log(steps[(k+turned)%len(steps)])
	}
	return out
}

// jumps is the sum of squared changes around the cycle.
func jumps(v []float64) (sum float64) {
	last := v[len(v)-1]
	for _, x := range v {
		sum += (x - last) * (x - last)
		last = x
	}
	return sum
}
