package order

import (
	"math"
	"math/cmplx"
	"slices"
)

// faintLeft is what a firing that is there leaves at least of its usual wave in
// the bass, where natural spread is 3 to 10 % from cycle to cycle; as much again
// above it is as far from the usual as that is below. Judgement.
const faintLeft = 0.5

// A firing that is gone leaves little of its wave, never one upside down. Where
// waves lie below −overturned of the usual one, the phase of the cycles is off, and
// for each of them so many more lie between that and faintLeft. Judgement, from the
// likeness of a tone to itself turned by a wandering phase: the nearer, the more.
const (
	overturned  = 0.25
	turnedShare = 2.0
)

// countErrors is by how many standard errors two counts must differ.
const countErrors = 3.0

// leastWave is the share of the mean power of a slot's wave below which a slot is
// too silent to measure. Judgement.
const leastWave = 0.25

// faintFirings is the share of the single firings whose wave in the bass is less
// than faintLeft of the usual one, beyond those that are as much stronger: noise,
// a wandering speed and an unsteady lock make as many of both, a miss only the
// first. Valves, which click at every place whether it fires or not, hide misses
// from the upper bands, but not from this. Which slot a piece of the wave is cut
// into does not matter.
func (f *folded) faintFirings() float64 {
	n := f.layout.N()
	low := view{band: 0, from: 1, to: f.harmonics, low: true}
	if n < 2 || f.bands[0].clarity(low, n) < clearView {
		return 0
	}
	var shares []float64
	for _, filter := range f.slotWaves() {
		for _, c := range f.cycles {
			sum := 0.0
			for h, w := range filter {
				p := c.phasors[h]
				sum += float64(real(p)*real(w) - imag(p)*imag(w))
			}
			shares = append(shares, sum)
		}
	}
	return shareGone(shares)
}

// shareGone of single firings, from how much each has of its usual wave.
func shareGone(shares []float64) float64 {
	if len(shares) == 0 {
		return 0
	}
	usual := median(slices.Clone(shares))
	var faint, strong, turned float64
	for _, s := range shares {
		switch {
		case s < -overturned*usual:
			faint, turned = faint+1, turned+1
		case s < faintLeft*usual:
			faint++
		case s > (2+overturned)*usual:
			strong, turned = strong+1, turned-1
		case s > (2-faintLeft)*usual:
			strong++
		}
	}
	gone := faint - strong - (1+turnedShare)*max(turned, 0)
	if gone < countErrors*math.Sqrt(faint+strong) {
		return 0
	}
	return gone / float64(len(shares))
}

// slotWaves are what the phasors of a cycle in the low band are multiplied with to
// give how much it has of the mean wave of each slot; slots too silent are left out.
func (f *folded) slotWaves() [][]complex64 {
	n := f.layout.N()
	points := perSlot * n
	mean := slices.Clone(f.bands[0].mean[:min(f.harmonics, points/2)])
	if n > 2 {
		mean[turnHarmonic-1] = 0
	}
	turns := make([]complex128, points)
	for i := range turns {
		turns[i] = cmplx.Rect(1, 2*math.Pi*float64(i)/float64(points))
	}
	w, total := wave(mean, points), 0.0
	for _, v := range w {
		total += v * v
	}
	places, _ := placesOf(f.layout, points)
	var out [][]complex64
	for k, from := range places {
		to := points
		if k+1 < n {
			to = places[k+1]
		}
		power := 0.0
		for _, v := range w[from:to] {
			power += v * v
		}
		if power <= leastWave*total/float64(n) {
			continue
		}
		filter := make([]complex64, len(mean))
		for h := range filter {
			var sum complex128
			for i := from; i < to; i++ {
				sum += complex(w[i], 0) * turns[(h+1)*i%points]
			}
			filter[h] = complex64(2 * sum / complex(power, 0))
		}
		if n > 2 {
			filter[turnHarmonic-1] = 0
		}
		out = append(out, filter)
	}
	return out
}
