package order

import (
	"math"
)

// film is the loudness of the bands around a cut at a coarse pace, some
// samples a firing.
type film struct {
	start, step float64 // s
	rows        [][]float64
}

const filmPerFiring = 8 // samples

// newFilm averages the frames of the given bands; the low one by its power.
func newFilm(r reel, bands []int, firing float64) film {
	every := max(int(firing*r.rate/filmPerFiring), 1)
	f := film{start: (float64(r.first) + float64(every-1)/2) / r.rate, step: float64(every) / r.rate}
	for _, b := range bands {
		f.rows = append(f.rows, thinned(r.rows[b], every, b == 0))
	}
	if smooth := int(r.rate * firing / humFirings); smooth >= humLeast {
		f.rows = append(f.rows, thinned(withoutHum(r.rows[0], smooth), every, true))
	}
	return f
}

const (
	humFirings = 6 // multiples of the firing frequency that are left out
	humLeast   = 3 // frames of a period there, for the low band to reach beyond
)

// withoutHum takes the slow part off the low band: what is left rings with each
// firing and dies away before the next, where the firing frequency itself hums
// through all of them.
func withoutHum(row []float32, width int) []float32 {
	slow := runningMean(runningMean(row, width), width)
	out := make([]float32, len(row))
	for i, v := range row {
		out[i] = v - slow[i]
	}
	return out
}

// runningMean is the mean of width samples around each, fewer at the ends; of
// one more where width is even.
func runningMean(row []float32, width int) []float32 {
	half := width / 2
	sums := make([]float64, len(row)+1)
	for i, v := range row {
		sums[i+1] = sums[i] + float64(v)
	}
	out := make([]float32, len(row))
	for i := range out {
		from, to := max(i-half, 0), min(i+half+1, len(row))
		out[i] = float32((sums[to] - sums[from]) / float64(to-from))
	}
	return out
}

func thinned(row []float32, every int, power bool) []float64 {
	out := make([]float64, len(row)/every)
	for i := range out {
		for _, v := range row[i*every : (i+1)*every] {
			if power {
				v *= v
			}
			out[i] += float64(v) / float64(every)
		}
		if power {
			out[i] = math.Sqrt(out[i])
		}
	}
	return out
}

func (f film) frames() int { return len(f.rows[0]) }

func (f film) at(i int) float64 { return f.start + float64(i)*f.step }

// clock gives the phase of the engine cycle from the lock's cycles.
type clock struct {
	zeros []float64 // s, where each cycle begins
}

func newClock(cycles []cycle) clock {
	var c clock
	for _, k := range cycles {
		c.zeros = append(c.zeros, k.start+k.late*k.seconds)
	}
	return c
}

// at gives the phase in cycles, 0 to 1, and the cycle rate; ok is false where
// the clock did not run.
func (c clock) at(t float64) (phase, hz float64, ok bool) {
	i := len(c.zeros) - 1
	for i > 0 && c.zeros[i-1] > t {
		i--
	}
	if i <= 0 || t >= c.zeros[i] || t < c.zeros[i-1] {
		return 0, 0, false
	}
	length := c.zeros[i] - c.zeros[i-1]
	return (t - c.zeros[i-1]) / length, 1 / length, length > 0
}

// score is what the bands do over one engine cycle: mean and variance by phase.
type score struct {
	mean, variance [][]float64 // by band and place in the cycle
}

const placesPerFiring = 24

// newScore folds the film by the clock.
func newScore(f film, c clock, places int) (score, bool) {
	s := score{}
	count := make([]float64, places)
	where := make([]int, f.frames())
	for i := range where {
		where[i] = -1
		if phase, _, ok := c.at(f.at(i)); ok {
			where[i] = min(int(phase*float64(places)), places-1)
			count[where[i]]++
		}
	}
	for _, n := range count {
		if n < 2 {
			return s, false
		}
	}
	for _, row := range f.rows {
		mean, square := make([]float64, places), make([]float64, places)
		for i, p := range where {
			if p >= 0 {
				mean[p] += row[i] / count[p]
				square[p] += row[i] * row[i] / count[p]
			}
		}
		for p := range mean {
			square[p] = max(square[p]-mean[p]*mean[p], 0)
		}
		s.mean, s.variance = append(s.mean, smooth(mean)), append(s.variance, smooth(square))
	}
	return s, true
}

// smooth is a circular mean of three.
func smooth(x []float64) []float64 {
	n := len(x)
	out := make([]float64, n)
	for i := range x {
		out[i] = (x[(i+n-1)%n] + 2*x[i] + x[(i+1)%n]) / 4
	}
	return out
}

func slotWidth(starts []int, slot, places int) int {
	width := (starts[(slot+1)%len(starts)] - starts[slot] + places) % places
	if width == 0 {
		return places
	}
	return width
}
