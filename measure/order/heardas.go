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
	behind      part // with the firing before as quiet as a dead one
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

// newPart expects a mean where before the cut it was plain.
func newPart(mean, plain, variance []float64, low, high, scale float64) part {
	p := part{mean, make([]float64, len(mean)), make([]float64, len(mean))}
	for i, v := range plain {
		doubt, floor := loudDoubt*(v-low), quietDoubt*(high-low)
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

func newHeardAs(f film, s score, starts []int, from, to int, all []voices, change []cutGains) heardAs {
	places := len(s.mean[0])
	h := heardAs{before: matrix(to-from, places), during: matrix(to-from, places), starts: starts, from: from,
		weight: heardWeight / math.Sqrt(float64(len(f.rows)))}
	for b, row := range f.rows {
		mean, v := s.mean[b], all[b]
		low, high := slices.Min(mean), slices.Max(mean)
		scale := math.Sqrt(change[b].fire) // of both acts: no act must win by being surer
		_, plainQuiet, plainBehind := v.loudnessInCut(mean, cutGains{1, 1})
		full, quiet, behind := v.loudnessInCut(mean, change[b])
		calm := quietestOf(s.variance[b], slotMeans(mean, starts), starts)
		before := newPart(mean, mean, s.variance[b], low, high, scale)
		band := bandAs{row, newPart(full, mean, s.variance[b], low, high, scale),
			newPart(quiet, plainQuiet, calm, low, high, scale), newPart(behind, plainBehind, s.variance[b], low, high, scale)}
		for i := from; i < to; i++ {
			before.of(h.before[i-from], row[i], h.weight)
			band.full.of(h.during[i-from], row[i], h.weight)
		}
		h.bands = append(h.bands, band)
	}
	return h
}

// quietestOf puts in every slot what the quietest one has.
func quietestOf(x, loud []float64, starts []int) []float64 {
	n, best := len(x), slices.Index(loud, slices.Min(loud))
	out := slices.Clone(x)
	for k, start := range starts {
		for i := range slotWidth(starts, k, n) {
			out[(start+i)%n] = x[(starts[best]+i)%n]
		}
	}
	return out
}

// matrix of zeros, in one piece of memory.
func matrix(rows, columns int) [][]float64 {
	out, all := make([][]float64, rows), make([]float64, rows*columns)
	for i := range out {
		out[i] = all[i*columns:][:columns:columns]
	}
	return out
}

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
