package signal

import "math"

// halfBandReach is the number of samples the filter looks to each side.
const halfBandReach = 7

// halfBand splits a stream into the half below and the half above a quarter of
// its rate, each at half the rate. A half-band filter has zero taps at even
// distances, so low = centre + side and high = centre − side come from the same
// four products.
type halfBand struct {
	taps [4]float32 // at distances 1, 3, 5, 7
	past []float32  // input not yet used up
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

// add takes samples and returns how many of each half they give.
func (h *halfBand) add(x []float32) (pairs int) {
	h.past = append(h.past, x...)
	return max(len(h.past)-halfBandReach*2+1, 0) / 2
}

// used forgets the samples of so many pairs.
func (h *halfBand) used(pairs int) {
	h.past = h.past[:copy(h.past, h.past[2*pairs:])]
}

// split fills low from a pair on and adds the squares of the high half to sum.
func (h *halfBand) split(low []float32, from int, sum float32) float32 {
	t0, t1, t2, t3 := h.taps[0], h.taps[1], h.taps[2], h.taps[3]
	p := h.past[2*from:]
	for ; len(low) >= 2; low, p = low[2:], p[4:] { // two at once read most samples but once
		q := (*[2*halfBandReach + 3]float32)(p)
		q2, q4, q6, q8, q10, q12, q14 := q[2], q[4], q[6], q[8], q[10], q[12], q[14]
		a, b := q[7]*0.5, q[9]*0.5
		side := t0*(q6+q8) + t1*(q4+q10) + t2*(q2+q12) + t3*(q[0]+q14)
		next := t0*(q8+q10) + t1*(q6+q12) + t2*(q4+q14) + t3*(q2+q[16])
		low[0], low[1] = a+side, b+next
		sum += (a - side) * (a - side)
		sum += (b - next) * (b - next)
	}
	if len(low) == 1 {
		q := (*[2*halfBandReach + 1]float32)(p)
		centre := q[7] * 0.5
		side := t0*(q[6]+q[8]) + t1*(q[4]+q[10]) + t2*(q[2]+q[12]) + t3*(q[0]+q[14])
		low[0] = centre + side
		sum += (centre - side) * (centre - side)
	}
	return sum
}
