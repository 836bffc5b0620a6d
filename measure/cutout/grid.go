package cutout

import "math"

// grid is a track brought to equal spacing. NaN marks what is missing or not
// to be used.
type grid struct {
	start, step float64 // s
	y           []float64
}

// Longest spacing and gap of a grid, in seconds.
const (
	finestStep = 0.1
	longestGap = 1.2
)

// onGrid averages t into cells of its own rate, but not finer than 10 a second,
// and bridges gaps up to longestGap.
func (t Track) onGrid() grid {
	step := math.Max(finestStep, 1/t.rate())
	n := int((t.T[len(t.T)-1]-t.T[0])/step) + 1
	g := grid{start: t.T[0], step: step, y: make([]float64, n)}
	count := make([]float64, n)
	for i, at := range t.T {
		k := min(int((at-g.start)/step+0.5), n-1)
		g.y[k] += t.Y[i]
		count[k]++
	}
	for k := range g.y {
		g.y[k] /= count[k] // 0/0: NaN, missing
	}
	g.bridge()
	return g
}

// bridge fills short gaps with a straight line.
func (g grid) bridge() {
	last := -1
	for k, v := range g.y {
		if math.IsNaN(v) {
			continue
		}
		if gap := k - last; last >= 0 && gap > 1 && float64(gap)*g.step <= longestGap {
			for j := last + 1; j < k; j++ {
				f := float64(j-last) / float64(gap)
				g.y[j] = (1-f)*g.y[last] + f*v
			}
		}
		last = k
	}
}

func (g grid) at(k int) float64 { return g.start + float64(k)*g.step }

func (g grid) end() float64 { return g.at(len(g.y) - 1) }

// index is the cell nearest to a time, which may lie outside.
func (g grid) index(t float64) int { return int(math.Round((t - g.start) / g.step)) }

// mean over [from, to) of what is there; NaN for nothing.
func (g grid) mean(from, to float64) float64 {
	var sum, n float64
	for k := max(g.index(from), 0); k < min(g.index(to), len(g.y)); k++ {
		if !math.IsNaN(g.y[k]) {
			sum, n = sum+g.y[k], n+1
		}
	}
	return sum / n
}

// detrend subtracts a running mean of the given length in seconds from x,
// ignoring NaN. It is linear: what is done to the data is done to the shapes
// fitted to it.
func (g grid) detrend(x []float64, seconds float64) []float64 {
	half := max(int(seconds/g.step/2), 1)
	sum, count := make([]float64, len(x)+1), make([]float64, len(x)+1)
	for i, v := range x {
		sum[i+1], count[i+1] = sum[i], count[i]
		if !math.IsNaN(v) {
			sum[i+1], count[i+1] = sum[i]+v, count[i]+1
		}
	}
	out := make([]float64, len(x))
	for i, v := range x {
		from, to := max(i-half, 0), min(i+half+1, len(x))
		out[i] = v - (sum[to]-sum[from])/(count[to]-count[from])
	}
	return out
}
