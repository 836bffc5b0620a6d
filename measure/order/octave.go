package order

import (
	"math"
	"math/cmplx"

	"halforder/engine"
)

const (
	octaveStarts = 3   // and so often the tracker is led elsewhere
	octaveCycles = 16  // tested at this many cycles and each doubling
	octaveLast   = 64  // from this many on, the newest so many
	octaveSign   = 2.2 // repetition above which the cycle is a part of one; chance and drift stay below
	lateSign     = 10  // the same when tested again and again: misses at random, alike in all bands, exceed it once in e^10 times
)

// partOfCycle tests, now and then and at the end, whether what was taken for a
// cycle is a part of one. It returns how many make one, 1 when it is whole, and
// the speed that was too high.
func (l *Listener) partOfCycle(flush bool) (int, engine.RPM) {
	if l.checked >= octaveLast {
		return l.partLater(flush)
	}
	n := len(l.heard.cycles)
	if n < octaveCycles || l.restarts >= octaveStarts || !flush && n < 2*l.checked {
		return 1, 0
	}
	l.checked = n
	speed, first := l.heard.total.speed(), l.heard.cycles[:min(n, 2*octaveLast)]
	if p := l.refutedBy(first, speed, octaveSign); p > 1 {
		return p, speed
	}
	return l.alias(first), speed
}

// partLater tests the newest cycles: the tracker may have jumped. Where frames
// were let go since the beginning, what was heard of them is not given up.
func (l *Listener) partLater(flush bool) (int, engine.RPM) {
	n, newest := l.heard.total.cycles, l.heard.cycles[max(0, len(l.heard.cycles)-octaveLast):]
	if l.restarts >= octaveStarts || l.bank.Frames().First != l.begun || len(newest) < octaveCycles || !flush && n < l.checked+octaveLast {
		return 1, 0
	}
	l.checked = n
	var t tally
	for _, c := range newest {
		t.add(c)
	}
	return l.refutedBy(newest, t.speed(), lateSign), t.speed()
}

// refutedBy is how many of some cycles make a whole one, 1 when they are whole.
func (l *Listener) refutedBy(cycles []cycle, speed engine.RPM, sign float64) int {
	for _, p := range []int{2, 3} {
		if speed/engine.RPM(p) > slowest && repetition(cycles, p) > sign {
			l.refuted = speed
			return p
		}
	}
	return 1
}

// repetition tells whether cycles differ in a rhythm of period cycles. Nothing
// in an engine repeats more slowly than its cycle, so when they do, what was
// taken for a cycle is a part of one and the speed is too high. It is the mean
// over bands and harmonics of n·|D|²/variance, D the mean of the cycles turned
// by 1/period each: 1 for chance alone.
func repetition(cycles []cycle, period int) float64 {
	n := len(cycles) / period * period
	means, turned := make([]complex128, len(cycles[0].phasors)), make([]complex128, len(cycles[0].phasors))
	squares := make([]float64, len(means))
	for k := range n {
		turn := cmplx.Rect(1, 2*math.Pi*float64(k%period)/float64(period))
		for i, c := range cycles[k].phasors {
			v := complex128(c)
			means[i] += v
			turned[i] += v * turn
			squares[i] += sq(v)
		}
	}
	var sum, terms float64
	for i, square := range squares {
		variance := square/float64(n) - sq(means[i])/float64(n*n)
		if variance > 0 {
			sum += sq(turned[i]) / float64(n) / variance
			terms++
		}
	}
	return sum / max(terms, 1)
}
