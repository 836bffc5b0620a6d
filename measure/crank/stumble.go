package crank

import (
	"math"
	"slices"
)

// Stumble is a sudden loss of speed that the engine recovers from: several
// misses in a row, or one firing that works against the crank (a spark far too
// early). The weighers, made for single misses, may see it only in part.
type Stumble struct {
	Seconds float64 // when the speed began to fall
	Drop    float64 // share of the speed lost within a cycle or two
	Label   string  // the firing that began it, as far as it can be named
}

// What makes a stumble.
const (
	leastDrop    = 0.10 // of the speed
	stumbleSigma = 6.0  // times the usual change over two cycles
	recovery     = 6    // cycles within which half the drop is made good
	settled      = 5    // cycles without a drop before, so that a stopping engine is none
)

// stumbles finds them in the speed of whole cycles.
func (a *analysis) stumbles() []Stumble {
	var out []Stumble
	for _, p := range a.clock.parts {
		speeds := cycleSpeeds(p, a.clock.perCycle())
		least := max(leastDrop, stumbleSigma*usualChange(speeds))
		ratio := math.Exp(least)
		for c := 1; c+recovery < len(speeds); c++ {
			if speeds[c-1] < ratio*speeds[c+1] {
				continue
			}
			drop := math.Log(speeds[c-1] / speeds[c+1])
			if drop < least || !deepest(speeds, c, drop) || !recovers(speeds, c) {
				continue
			}
			out = append(out, a.describeStumble(p, c, drop))
		}
	}
	return out
}

func cycleSpeeds(p stretchOfCycles, m int) []float64 {
	out := make([]float64, 0, len(p.t)/m)
	for base := 0; base+m < len(p.t); base += m {
		out = append(out, 120/(p.t[base+m]-p.t[base]))
	}
	return out
}

// usualChange is the scatter of the speed's change over two cycles.
func usualChange(speeds []float64) float64 {
	var off []float64
	for c := 1; c+1 < len(speeds); c += 1 + len(speeds)/describedBy {
		off = append(off, math.Abs(math.Log(speeds[c-1]/speeds[c+1])))
	}
	if len(off) == 0 {
		return math.Inf(1)
	}
	return 1.4826 * median(off)
}

// deepest reports whether no cycle beside drops more.
func deepest(speeds []float64, c int, drop float64) bool {
	for i := max(1, c-2); i <= c+2 && i+1 < len(speeds); i++ {
		d := math.Log(speeds[i-1] / speeds[i+1])
		if i < c && d >= drop || i > c && d > drop {
			return false
		}
	}
	return true
}

// recovers reports whether half of the loss is soon made good.
func recovers(speeds []float64, c int) bool {
	low := min(speeds[c], speeds[c+1])
	high := slices.Max(speeds[c+1 : min(len(speeds), c+2+recovery)])
	return math.Log(high/low) > math.Log(speeds[c-1]/low)/2
}

// describeStumble finds where within the cycles c−1 to c+1 the crank slows most
// against the mean cycle, and which firing is due there.
func (a *analysis) describeStumble(p stretchOfCycles, c int, drop float64) Stumble {
	m := a.clock.perCycle()
	mean := mainBins(a.bins, 1)[0].late
	most, at := 0.0, c*m
	width := max(1, m/12) // a twelfth of the cycle: noise of one tooth is no stumble
	for i := (c - 1) * m; i < (c+2)*m-2*width && i+2*width < len(p.t); i++ {
		before := (p.t[i+width] - p.t[i]) / a.usualShare(mean, i, width)
		after := (p.t[i+2*width] - p.t[i+width]) / a.usualShare(mean, i+width, width)
		if r := after / before; r > most {
			most, at = r, i+width
		}
	}
	angle := a.clock.angles[at%m]
	return Stumble{p.t[at], -math.Expm1(-drop), a.slotName(a.dueAt(angle))}
}

// usualShare is the angle from mark i over so many marks as the mean cycle
// takes its time for it.
func (a *analysis) usualShare(late []float64, i, width int) float64 {
	m := len(late)
	total := 0.0
	for k := i; k < i+width; k++ {
		step, more := turnStep(a.clock.angles, late, k%m)
		total += step + more
	}
	return total
}

// dueAt is the slot whose compression or burn is under way at an angle: from
// 90° before top dead centre on.
func (a *analysis) dueAt(angle float64) int {
	best, slot := math.Inf(1), 0
	for k, top := range a.tops {
		if d := wrapCycle(angle - top + 90); d < best {
			best, slot = d, k
		}
	}
	return slot
}
