package edges

import "math"

// counterBits are the widths of counters that begin anew where they are full.
var counterBits = []float64{16, 24, 32}

// leastFall is by how many ticks at least a counter falls that begins anew.
const leastFall = 1 << 15

// wrapping notes where a counter of ticks began anew.
type wrapping struct {
	fraction bool    // some time is no whole number: no counter
	most     float64 // ticks
	leastBy  float64 // the smallest fall
	falls    int     // of the time from one line to the next by more than half of what was seen
	sure     bool    // one of them within a channel: channels listed one after the other fall too
	last     line
	switches int // from one channel to another
	channels map[string]*epochs
}

type line struct {
	channel string
	ticks   float64
	any     bool
}

// epochs are from which edge of a channel on so many falls came before.
type epochs struct {
	last        float64
	from, falls []int
}

// see takes the time, in ticks, of the edge with a number within its channel.
func (w *wrapping) see(channel string, number int, t float64) {
	if w.fraction = w.fraction || t != math.Trunc(t) || t < 0; w.fraction {
		return
	}
	if w.channels == nil {
		w.channels, w.leastBy = map[string]*epochs{}, math.Inf(1)
	}
	c := w.channels[channel]
	if c == nil {
		c = &epochs{last: t}
		w.channels[channel] = c
	}
	if w.last.any && w.last.channel != channel {
		w.switches++
	}
	w.most = max(w.most, t)
	if by := w.last.ticks - t; w.last.any && by >= max(leastFall, w.most/2) {
		w.falls++
		w.leastBy = min(w.leastBy, by)
	}
	w.sure = w.sure || c.last-t >= max(leastFall, w.most/2)
	if n := len(c.falls); w.falls > 0 && (n == 0 || c.falls[n-1] != w.falls) {
		c.from, c.falls = append(c.from, number), append(c.falls, w.falls)
	}
	w.last, c.last = line{channel, t, true}, t
}

// full is how far the counter counts, in ticks; 0 when it did not begin anew, or
// the channels do not stand in one order of time.
func (w *wrapping) full() float64 {
	if w.fraction || !w.sure || len(w.channels) > 1 && w.switches < len(w.channels) {
		return 0
	}
	for _, bits := range counterBits {
		if full := math.Exp2(bits); w.most < full {
			if w.leastBy < full/2 {
				return 0
			}
			return full
		}
	}
	return 0
}

// countOn adds what was counted before to the times of a channel.
func (w *wrapping) countOn(c *Channel, tick float64) {
	full := w.full() * tick
	if e := w.channels[c.Name]; full > 0 && e != nil {
		for k, from := range e.from {
			to := len(c.Times)
			if k+1 < len(e.from) {
				to = e.from[k+1]
			}
			for i := from; i < to; i++ {
				c.Times[i] += full * float64(e.falls[k])
			}
		}
	}
}
