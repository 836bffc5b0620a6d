package signal

import "math"

// Unclipper bridges what was too loud for its recorder. Samples in a row that are
// as loud as the loudest so far are not known: a cubic that goes on with the slopes
// on both sides takes their place (Hermite interpolation), beneath a flat top
// nowhere lower than that. Clipped tops hide the tones that ride on them, and their
// corners make others: either would be mistaken for a change of loudness.
type Unclipper struct {
	longest int       // samples of a run that is bridged
	top     float32   // size of the loudest so far
	done    int       // samples at the beginning of buf that were handed on
	buf     []float32 // some handed on, then those held back
}

// longestTop in seconds is half a wave of 50 Hz: what is flat for longer is no
// sound. leastSlope is the least number of samples that a slope is taken over; a
// long run takes half its length.
const (
	longestTop = 0.01
	leastSlope = 3
)

// flatness is by which share the samples of a run may differ in size: three steps
// of 16 bit, for recorders that scale what was clipped.
const flatness = 1e-4

// NewUnclipper is for samples at a rate in hertz.
func NewUnclipper(rate float64) *Unclipper {
	return &Unclipper{longest: max(int(longestTop*rate), leastSlope)}
}

// Write takes samples, the largest of them of size loudest, and gives those that
// are ready, valid until the next call: all but a clipped run at the end.
func (u *Unclipper) Write(x []float32, loudest float32) []float32 {
	u.drop()
	if len(u.buf) == u.done && loudest < (1-flatness)*u.top {
		u.buf = append(u.buf, x[max(0, len(x)-u.reach()):]...)
		u.done = len(u.buf)
		return x
	}
	u.buf = append(u.buf, x...)
	return u.ready(false)
}

// Flush gives what is held back.
func (u *Unclipper) Flush() []float32 {
	u.drop()
	return u.ready(true)
}

// reach is how many samples handed on are kept for the slopes.
func (u *Unclipper) reach() int { return u.longest + leastSlope }

func (u *Unclipper) drop() {
	if spare := u.done - u.reach(); spare > 0 {
		u.buf = u.buf[:copy(u.buf, u.buf[spare:])]
		u.done -= spare
	}
}

func (u *Unclipper) ready(last bool) []float32 {
	from := u.done
	for u.done < len(u.buf) {
		i := u.done
		if sizeOf(u.buf[i]) < (1-flatness)*u.top {
			u.done++
			continue
		}
		j := u.endOfRun(i)
		slope := max(leastSlope, (j-i)/2)
		if j+slope >= len(u.buf) && j-i <= u.longest && !last {
			break // it is not known yet how it goes on
		}
		u.top = max(u.top, sizeOf(u.buf[i]))
		if j-i > 1 && j-i <= u.longest && i > slope && j+slope < len(u.buf) {
			u.bridge(i, j, slope)
		}
		u.done = j
	}
	return u.buf[from:u.done]
}

func sizeOf(v float32) float32 { return max(v, -v) }

// endOfRun is behind the samples from i on that are as loud as the first, of
// either sign.
func (u *Unclipper) endOfRun(i int) int {
	level := sizeOf(u.buf[i])
	j := i + 1
	for j < len(u.buf) && sizeOf(sizeOf(u.buf[j])-level) <= flatness*level {
		j++
	}
	return j
}

// bridge replaces the samples from i up to j. Where they change their sign nothing
// is known but that they were loud; a flat top bounds them.
func (u *Unclipper) bridge(i, j, slope int) {
	x, steps := u.buf, float32(j-i+1)
	low, high := math.Inf(-1), math.Inf(1)
	if side := signs(x[i:j]); side > 0 {
		low = float64(x[i])
	} else if side < 0 {
		high = float64(x[i])
	}
	before, after := x[i-1], x[j]
	rise := (before - x[i-1-slope]) / float32(slope) * steps
	fall := (x[j+slope] - after) / float32(slope) * steps
	for k := i; k < j; k++ {
		t := float32(k-i+1) / steps
		r := 1 - t
		v := r*r*(1+2*t)*before + t*r*r*rise + t*t*(3-2*t)*after - t*t*r*fall
		x[k] = min(max(v, float32(low)), float32(high))
	}
}

// signs is 1 or −1 where all are of one sign, else 0.
func signs(x []float32) int {
	up := 0
	for _, v := range x {
		if v > 0 {
			up++
		}
	}
	switch up {
	case len(x):
		return 1
	case 0:
		return -1
	}
	return 0
}
