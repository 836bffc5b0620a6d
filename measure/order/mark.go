package order

import (
	"math"
	"math/cmplx"

	"halforder/engine"
	"halforder/finding"
)

// markFinder finds the pulses in a mark channel: a coil's current or trigger, a
// cam sensor. A pulse begins where the signal leaves the middle of its usual
// span towards its rarer side.
type markFinder struct {
	rate         float64
	samples      int64
	low, high    float32
	above        bool
	rises, falls []float64 // s
}

const (
	markDead  = 0.012 // s within which a pulse is not another one: 6500 rpm has 18 ms a cycle
	markDecay = 0.99999
)

// write takes samples of the mark channel.
func (m *markFinder) write(x []float32) {
	for _, v := range x {
		m.samples++
		m.low, m.high = min(m.low*markDecay, v), max(m.high*markDecay, v)
		span := m.high - m.low
		middle := m.low + span/2
		t := float64(m.samples) / m.rate
		switch {
		case !m.above && v > middle+span/8:
			m.above = true
			m.rises = append(m.rises, t)
		case m.above && v < middle-span/8:
			m.above = false
			m.falls = append(m.falls, t)
		}
	}
}

// times gives the beginnings of the pulses, the shorter state being the pulse.
func (m *markFinder) times() []float64 {
	n := min(len(m.rises), len(m.falls))
	var high, low float64
	for i := range n {
		high += m.falls[i] - m.rises[i]
		if i+1 < len(m.rises) {
			low += m.rises[i+1] - m.falls[i]
		}
	}
	edges := m.rises
	if low < high {
		edges = m.falls
	}
	var out []float64
	for _, t := range edges {
		if len(out) == 0 || t-out[len(out)-1] > markDead {
			out = append(out, t)
		}
	}
	return out
}

// The pulse of an upper band stands so many crank degrees after the ignition:
// burning, and the way to the microphone. A tailpipe adds an unknown way, which
// the flat part allows for. Judgement (prior).
const (
	burnDelay  = 45.0
	burnSpread = 30.0
	delayKnown = 0.97
)

const markSteady = 0.8 // mean resultant of the mark's phase below which it is no mark

// markPhase is where in the cycle the marks stand, in cycles, and how steadily:
// 1 for always, 0 for anywhere. Marks once a crank turn are steady at the second
// harmonic only.
func markPhase(cycles []cycle, marks []float64) (phase, steady float64) {
	var sum complex128
	n, i := 0.0, 0
	for _, c := range cycles {
		for i < len(marks) && marks[i] < c.start {
			i++
		}
		for ; i < len(marks) && marks[i] < c.start+c.seconds; i++ {
			sum += cmplx.Rect(1, 2*math.Pi*(marks[i]-c.start)/c.seconds)
			n++
		}
	}
	if n < minCycles {
		return 0, 0
	}
	return cmplx.Phase(sum) / (2 * math.Pi), cmplx.Abs(sum) / n
}

// namesByMark weighs the patterns by cylinder with the marks of a known one, or
// says why it cannot.
func (h *heard) namesByMark() (*finding.Likelihood, string) {
	last := h.last()
	if len(last) < minCycles || h.layout.N() < 2 {
		return nil, "too few cycles to use the mark"
	}
	phase, steady := markPhase(last, h.marks)
	if steady < markSteady {
		return nil, "the mark does not stand still in the engine cycle: it must come once a cycle, from the ignition of the cylinder given"
	}
	f := h.folded(last)
	table := newTable(weigh(f), h.ratioOf(f), h.layout.N())
	if len(table.high) == 0 {
		return nil, "no upper band hears the firings: the mark alone names nobody from the bass, whose delay is unknown"
	}
	log := map[finding.Pattern]float64{}
	turns := h.slotChances(table.high[0], phase)
	h.placeByMark(f, table, turns)
	for _, p := range namedPatterns(h.layout.N()) {
		log[p] = table.named(p, turns, false)
	}
	return shifted(log), ""
}

// slotChances gives the log-chance that each slot of a view belongs to the
// first cylinder of the firing order, from where the marked one's should stand.
func (h *heard) slotChances(e evidence, phase float64) []float64 {
	n := h.layout.N()
	out := make([]float64, n)
	marked := h.layout.Position(h.marked)
	for k := range out { // slot k the first cylinder's, slot k+marked the marked one's
		pulse := (e.pulse + float64(k+marked)) / float64(n) // in cycles
		delay := float64(engine.CycleDeg) * wrapHalf(pulse-phase)
		z := (delay - burnDelay) / burnSpread
		peak := math.Exp(-z*z/2) / burnSpread / math.Sqrt(2*math.Pi) * float64(engine.CycleDeg) / float64(n)
		out[k] = math.Log(delayKnown*peak + (1-delayKnown)/float64(n))
	}
	return out
}

// wrapHalf brings x into [−½, ½).
func wrapHalf(x float64) float64 { return x - math.Floor(x+0.5) }

// named is the log-likelihood of a pattern by cylinder when turn[k] is the
// log-chance that slot k belongs to the first cylinder of the firing order. The
// bass comes with a delay of its own and stays anonymous.
func (t *table) named(p finding.Pattern, turn []float64, byLow bool) float64 {
	known := math.Inf(-1)
	var other []float64
	for k := range turn {
		slots := p.Rotate(-k) // slot k holds position 0
		l, u := t.both(t.bands(slots))
		if byLow {
			l, u = u, l
		}
		known = logAdd(known, turn[k]+u)
		other = append(other, l)
	}
	return known + logMean(other)
}
