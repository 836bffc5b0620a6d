package order

import (
	"math"
	"slices"

	"halforder/engine"
)

const (
	beatPoints  = 24    // of a firing
	beatReach   = 0.28  // ratio by which a unit may be longer or shorter than tracked
	beatChange  = 0.035 // spread of the logarithm of the length from unit to unit
	beatTracked = 0.34  // the same against the tracked speed
	beatTemper  = 0.15  // weight of a point: neighbours and bands say much the same
	beatStray   = 16.0  // squared deviation beyond which a point counts no more
	beatFloor   = 0.1   // share of the mean loudness below which nothing is told apart
	levelCycles = 3     // over which the level of all bands is taken out: gain control
)

// beatGrid is a tape with so many points to a unit of the tracked speed.
type beatGrid struct {
	at     []float64   // frames of the tape, by point
	rows   [][]float32 // by band, spread 1: the low band, and logarithms of loudness
	levels [][]uint8   // the same in whole steps
	spread []float32   // of the rows before
	unit   int         // points
}

// follow puts the tape on a grid of so many points to a unit, and follows the
// phase.
func (t *tape) follow(layout engine.Layout, units, unit int) (*beatGrid, beat) {
	steps := t.stepsAt()
	g := newBeatGrid(steps, units, unit)
	lines := t.linesAlong(steps, layout, func(band int, sums []float64) {
		g.rows = append(g.rows, g.resampled(sums))
		if band > 0 {
			logarithms(g.rows[band])
		}
	})
	g.level(units * unit)
	for _, r := range g.rows {
		g.spread = append(g.spread, normalize(r))
		g.levels = append(g.levels, levelsOf(r))
	}
	return g, lines.followed()
}

// linesAlong takes the line to be followed out of every band, and shows each band
// cumulated on the way.
func (t *tape) linesAlong(steps []float64, layout engine.Layout, show func(band int, sums []float64)) beatLines {
	lines := beatLines{h: float64(lowestNatural(layout))}
	var sums []float64
	for b, row := range t.rows {
		sums = cumulate(sums, row)
		lines.bands = append(lines.bands, lineOf(sums, int(lines.h), steps))
		show(b, sums)
	}
	return lines
}

func newBeatGrid(steps []float64, units, unit int) *beatGrid {
	per := float64(units*unit) / beatSteps
	g := &beatGrid{unit: unit, at: make([]float64, int(float64(len(steps)-1)*per))}
	for i := range g.at {
		x := float64(i) / per
		k := min(int(x), len(steps)-2)
		g.at[i] = steps[k] + (steps[k+1]-steps[k])*(x-float64(k))
	}
	return g
}

// resampled averages cumulated frames between points.
func (g *beatGrid) resampled(sums []float64) []float32 {
	out := make([]float32, len(g.at))
	last := sumAt(sums, g.at[0])
	for i := range len(out) - 1 {
		next := sumAt(sums, g.at[i+1])
		out[i] = float32((next - last) / (g.at[i+1] - g.at[i]))
		last = next
	}
	out[len(out)-1] = out[len(out)-2]
	return out
}

func logarithms(x []float32) {
	var mean float64
	for _, v := range x {
		mean += float64(v)
	}
	floor := beatFloor*mean/float64(len(x)) + 1e-12
	for i, v := range x {
		x[i] = float32(math.Log(max(float64(v), 0) + floor))
	}
}

// level takes the changing level of all upper bands out of the rows.
func (g *beatGrid) level(cycle int) {
	n, uppers := len(g.at), g.rows[1:]
	sums, sum := make([]float64, n+1), 0.0
	for i := range n {
		var v float64
		for _, r := range uppers {
			v += float64(r[i])
		}
		sum += v / float64(len(uppers))
		sums[i+1] = sum
	}
	reach, all := levelCycles*cycle/2, sums[n]/float64(n)
	for i := range n {
		from, to := max(0, i-reach), min(n, i+reach)
		louder := (sums[to]-sums[from])/float64(to-from) - all
		g.rows[0][i] *= float32(math.Exp(-louder))
		for _, r := range uppers {
			r[i] -= float32(louder)
		}
	}
}

// normalize makes mean 0 and spread 1 and returns the spread before.
func normalize(x []float32) float32 {
	var sum, square float64
	for _, v := range x {
		sum, square = sum+float64(v), square+float64(v)*float64(v)
	}
	n := float64(len(x))
	mean := sum / n
	spread := math.Sqrt(max(square/n-mean*mean, 1e-12))
	for i := range x {
		x[i] = (x[i] - float32(mean)) / float32(spread)
	}
	return float32(spread)
}

// beatShape is what a unit sounds like, by band and point.
type beatShape struct{ mean, inverse [][]float32 } // inverse of the variance

// shapeAt averages the units that begin at points, weighted.
func (g *beatGrid) shapeAt(begins []int, weights []float64) beatShape {
	const prior = 2 // units that know nothing
	var s beatShape
	for _, row := range g.rows {
		sum, square, total := make([]float64, g.unit), make([]float64, g.unit), 1e-9
		for j, at := range begins {
			if at+g.unit > len(row) {
				continue
			}
			w := weights[j]
			total += w
			for i, v := range row[at : at+g.unit] {
				sum[i] += w * float64(v)
				square[i] += w * float64(v) * float64(v)
			}
		}
		mean, inverse := make([]float32, g.unit), make([]float32, g.unit)
		for i := range mean {
			m := sum[i] / (total + prior)
			mean[i] = float32(m)
			inverse[i] = float32(1 / min(max(square[i]/total-m*m, 0.05)+prior/(total+prior), 1))
		}
		s.mean, s.inverse = append(s.mean, mean), append(s.inverse, inverse)
	}
	return s
}

// quieter is the shape with every band between two points as at its quietest.
func (s beatShape) quieter(from, to int) beatShape {
	out := beatShape{inverse: s.inverse}
	for b, mean := range s.mean {
		m, low := slices.Clone(mean), slices.Min(mean)
		if b == 0 {
			low = 0
		}
		for i := from; i < to; i++ {
			m[i] = low
		}
		out.mean = append(out.mean, m)
	}
	return out
}
