package signal

import (
	"math"
	"slices"
)

// halfBandReach is the number of samples the filter looks to each side.
const halfBandReach = 7

// halfBand splits a stream into the half below and the half above a quarter of
// its rate, each at half the rate. A half-band filter has zero taps at even
// distances, so low = centre + side and high = centre − side come from the same
// four products.
type halfBand struct {
	taps [4]float32 // at distances 1, 3, 5, 7
	past []float32  // input not yet used up
	high []float32
}

func newHalfBand() halfBand {
	var h halfBand
	var sum float64
	var taps [4]float64
	for i := range taps { // ideal half-band under a Hamming window
		d := float64(2*i + 1)
		x := d / (halfBandReach + 1)
		w := 0.54 + 0.46*math.Cos(math.Pi*x)
		taps[i] = w * math.Sin(math.Pi*d/2) / (math.Pi * d)
		sum += 2 * taps[i]
	}
	for i := range taps {
		h.taps[i] = float32(taps[i] / sum / 2) // gain 1 at rate 0, 0 at the top
	}
	h.past = make([]float32, halfBandReach) // silence before the start
	return h
}

// run appends the low half of x to low and returns it with the high half,
// which is valid until the next call.
func (h *halfBand) run(low, x []float32) ([]float32, []float32) {
	h.past = append(h.past, x...)
	pairs := max(len(h.past)-halfBandReach*2+1, 0) / 2
	from := len(low)
	low = slices.Grow(low, pairs)[:from+pairs]
	h.high = slices.Grow(h.high[:0], pairs)[:pairs]
	h.split(low[from:], h.high, h.past)
	h.past = h.past[:copy(h.past, h.past[2*pairs:])]
	return low, h.high
}

// split fills low and high, equally long, from p.
func (h *halfBand) split(low, high, p []float32) {
	t0, t1, t2, t3 := h.taps[0], h.taps[1], h.taps[2], h.taps[3]
	high = high[:len(low)]
	for i := range low {
		q := (*[2*halfBandReach + 1]float32)(p[2*i:])
		centre := q[7] * 0.5
		side := t0*(q[6]+q[8]) + t1*(q[4]+q[10]) + t2*(q[2]+q[12]) + t3*(q[0]+q[14])
		low[i], high[i] = centre+side, centre-side
	}
}
