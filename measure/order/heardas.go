package order

import (
	"math"
	"slices"
)

// heardAs holds, for every frame of a film, how likely it is at each place of
// the cycle, as before the cut and as during it: logarithms, by frame and place.
// How a slot sounds with its firing gone is made up from the bands when asked.
type heardAs struct {
	before, during [][]float64
	bands          []bandAs
	starts         []int // of the slots, in places
	from           int   // frame of the film
	weight         float64
}

// bandAs is one band of a film during a cut: as it should sound with every
// firing and with every firing as quiet as a dead one.
type bandAs struct {
	row         []float64
	full, quiet part
}

const (
	loudDoubt   = 0.25 // a firing differs that much from its mean
	quietDoubt  = 0.10 // of the loudest, everywhere
	heardWeight = 0.7  // neighbouring frames hear the same
	heardTail   = 4.0  // degrees of freedom: clanks happen
)

// part is one band of a score as it should sound: mean and inverse spread. low
// and high are the band's range when every firing is there: a silence is no
// surer than the rest.
type part struct {
	mean, inverse, log []float64
}

func newPart(mean, variance []float64, low, high float64, as loudness, scale float64) part {
	p := part{make([]float64, len(mean)), make([]float64, len(mean)), make([]float64, len(mean))}
	for i, v := range mean {
		doubt, floor := loudDoubt*(v-low), quietDoubt*(high-low)
		p.mean[i] = as.offset + as.gain*v
		p.inverse[i] = 1 / (scale*math.Sqrt(variance[i]+doubt*doubt+floor*floor) + 1e-30)
		p.log[i] = math.Log(p.inverse[i])
	}
	return p
}

// of adds the weighted log-likelihood of a value at every place.
func (p part) of(dst []float64, value, weight float64) {
	for i, m := range p.mean {
		z := (value - m) * p.inverse[i]
		dst[i] += weight * (p.log[i] - math.Log1p(z*z/heardTail)*(heardTail+1)/2)
	}
}

func newHeardAs(f film, s score, starts []int, from, to int, gains []loudness) heardAs {
	places := len(s.mean[0])
	h := heardAs{before: matrix(to-from, places), during: matrix(to-from, places), starts: starts, from: from,
		weight: heardWeight / math.Sqrt(float64(len(f.rows)))}
	for b, row := range f.rows {
		mean, variance := quiet(s.mean[b], s.variance[b], starts)
		low, high := slices.Min(s.mean[b]), slices.Max(s.mean[b])
		scale := math.Sqrt(gains[b].gain) // of both acts: no act must win by being surer
		before := newPart(s.mean[b], s.variance[b], low, high, loudness{1, 0}, scale)
		band := bandAs{row, newPart(s.mean[b], s.variance[b], low, high, gains[b], scale), newPart(mean, variance, low, high, gains[b], scale)}
		for i := from; i < to; i++ {
			before.of(h.before[i-from], row[i], h.weight)
			band.full.of(h.during[i-from], row[i], h.weight)
		}
		h.bands = append(h.bands, band)
	}
	return h
}

func matrix(rows, columns int) [][]float64 {
	out := make([][]float64, rows)
	for i := range out {
		out[i] = make([]float64, columns)
	}
	return out
}

// quiet is the band as it would be with every firing as quiet as a dead one: as
// the quietest, or as goneRest of the usual one where none is that quiet.
func quiet(mean, variance []float64, starts []int) (m, v []float64) {
	n := len(mean)
	loud := slotMeans(mean, starts)
	best := 0
	for k, l := range loud {
		if l < loud[best] {
			best = k
		}
	}
	base := slices.Min(mean)
	share := min(goneRest*(median(loud)-base)/max(loud[best]-base, 1e-30), 1)
	m, v = append(m, mean...), append(v, variance...)
	for k, start := range starts {
		for i := range slotWidth(starts, k, n) {
			m[(start+i)%n] = base + share*(mean[(starts[best]+i)%n]-base)
			v[(start+i)%n] = variance[(starts[best]+i)%n]
		}
	}
	return m, v
}

// goneRest is how loud a cylinder without fire is at most, against the usual
// one: the middle of highRest.
const goneRest = 0.4

// slotMeans is how loud each slot is.
func slotMeans(mean []float64, starts []int) []float64 {
	out := make([]float64, len(starts))
	for k, start := range starts {
		width := slotWidth(starts, k, len(mean))
		for i := range width {
			out[k] += mean[(start+i)%len(mean)] / float64(width)
		}
	}
	return out
}

// loudness is how a band changed with the cut.
type loudness struct{ gain, offset float64 }

// loudnessOf compares the highest and the lowest of each cycle during with
// before: firings that are left are as loud as the engine now works.
func loudnessOf(row []float64, cycle int, a0, a1, b0, b1 int) loudness {
	low0, high0 := extremes(row[a0:a1], cycle)
	low1, high1 := extremes(row[b0:b1], cycle)
	if high0-low0 <= 0 || high1-low1 <= 0 {
		return loudness{1, 0}
	}
	g := min(max((high1-low1)/(high0-low0), 0.5), 2)
	return loudness{g, low1 - g*low0}
}

// extremes are the medians of the lowest and highest of each run.
func extremes(x []float64, run int) (low, high float64) {
	var lows, highs []float64
	for ; len(x) >= run; x = x[run:] {
		lo, hi := x[0], x[0]
		for _, v := range x[:run] {
			lo, hi = min(lo, v), max(hi, v)
		}
		lows, highs = append(lows, lo), append(highs, hi)
	}
	if len(lows) == 0 {
		return 0, 0
	}
	return median(lows), median(highs)
}
