package order

import "halforder/engine"

const (
	octaveCycles = 16  // tested at this many cycles and each doubling
	octaveLast   = 64  // and no more after this many
	octaveSign   = 2.2 // alternation above which the cycle is half of one; chance and drift stay below
)

// octaveTooHigh tests, now and then, and at the end.
func (l *Listener) octaveTooHigh(flush bool) bool {
	n := len(l.heard.cycles)
	if n < octaveCycles || l.checked >= octaveLast || !flush && n < 2*l.checked {
		return false
	}
	l.checked = n
	return l.speedNow()/2 > slowest && alternation(l.heard.cycles[:min(n, 2*octaveLast)]) > octaveSign
}

// speedNow is the mean speed of the cycles heard since the start.
func (l *Listener) speedNow() engine.RPM {
	var sum float64
	for _, c := range l.heard.cycles {
		sum += c.hz
	}
	return engine.FromCycleHz(sum / float64(max(len(l.heard.cycles), 1)))
}

// alternation tells whether odd and even cycles differ. Nothing in an engine
// repeats more slowly than its cycle, so when they do, what was taken for a
// cycle is half of one and the speed is an octave too high. It is the mean over
// bands and harmonics of n·|D|²/variance, D the mean of the cycles with
// alternating sign: 1 for chance alone.
func alternation(cycles []cycle) float64 {
	n := float64(len(cycles) / 2 * 2)
	var sum float64
	terms := len(cycles[0].phasors)
	for i := range terms {
		var mean, turn complex128
		var squares float64
		sign := complex(1, 0)
		for _, c := range cycles[:int(n)] {
			v := complex128(c.phasors[i])
			mean += v
			turn += v * sign
			squares += sq(v)
			sign = -sign
		}
		variance := squares/n - sq(mean)/n/n
		if variance > 0 {
			sum += sq(turn) / n / variance
		}
	}
	return sum / float64(terms)
}
