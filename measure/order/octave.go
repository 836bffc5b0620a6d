package order

import (
	"math"
	"math/cmplx"

	"halforder/engine"
)

const (
	octaveStarts = 3   // and so often the tracker is led elsewhere
	octaveCycles = 16  // tested at this many cycles and each doubling
	octaveLast   = 64  // and no more after this many
	octaveSign   = 2.2 // repetition above which the cycle is a part of one; chance and drift stay below
)

// partOfCycle tests, now and then and at the end, whether what was taken for a
// cycle is a part of one. It returns how many make one, 1 when it is whole.
func (l *Listener) partOfCycle(flush bool) int {
	n := len(l.heard.cycles)
	if n < octaveCycles || l.restarts >= octaveStarts || l.checked >= octaveLast || !flush && n < 2*l.checked {
		return 1
	}
	l.checked = n
	for _, p := range []int{2, 3} {
		if l.heard.total.speed()/engine.RPM(p) > slowest && repetition(l.heard.cycles[:min(n, 2*octaveLast)], p) > octaveSign {
			l.refuted = l.heard.total.speed()
			return p
		}
	}
	return l.alias(l.heard.cycles[:min(n, 2*octaveLast)])
}

// repetition tells whether cycles differ in a rhythm of period cycles. Nothing
// in an engine repeats more slowly than its cycle, so when they do, what was
// taken for a cycle is a part of one and the speed is too high. It is the mean
// over bands and harmonics of n·|D|²/variance, D the mean of the cycles turned
// by 1/period each: 1 for chance alone.
func repetition(cycles []cycle, period int) float64 {
	n := len(cycles) / period * period
	turns := make([]complex128, period)
	for i := range turns {
		turns[i] = cmplx.Rect(1, 2*math.Pi*float64(i)/float64(period))
	}
	var sum, terms float64
	for i := range cycles[0].phasors {
		var mean, turn complex128
		var squares float64
		for k, c := range cycles[:n] {
			v := complex128(c.phasors[i])
			mean += v
			turn += v * turns[k%period]
			squares += sq(v)
		}
		variance := squares/float64(n) - sq(mean)/float64(n*n)
		if variance > 0 {
			sum += sq(turn) / float64(n) / variance
			terms++
		}
	}
	return sum / max(terms, 1)
}
