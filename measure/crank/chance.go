package crank

import (
	"fmt"
	"math"
)

// luck is the probability below which misses of a slot are no accident of the
// noise.
const luck = 1e-4

// unlikely is the probability below which they ask for a longer recording.
const unlikely = 0.01

// seenMiss is how many standard deviations a full miss must stand out to be
// found mostly, when no miss was seen that told its depth.
const seenMiss = 3.2

// fewestDoubtful is how many weak firings of one cylinder ask for a longer
// recording.
const fewestDoubtful = 2

// noiseTail is by how much the tail of the scatter is taken to be heavier than
// that of a normal heap.
const noiseTail = 2.0

// doubt says why single misses cannot be excluded although no cylinder is dead;
// empty when they can.
func (a *analysis) doubt() string {
	t := a.tallies()
	for k := range t {
		if t[k].missed >= fewestDoubtful && t[k].share() >= leastShare && byChance(t[k].missed, a.expectedAtMost(k)) < unlikely {
			return fmt.Sprintf("No cylinder misses all the time, but %d of %d firings of %s looked weak: more than chance makes, too few to be sure. Record longer.",
				t[k].missed, t[k].fired, a.slotPhrase(k))
		}
	}
	rpm := a.mainJudgement().rpm
	depth, advice := 1.0, "record at a lower speed"
	if rpm < nearIdle {
		depth, advice = surelyNothing, "record longer, standing, with little on the belt"
	}
	if !a.misses.clear && a.misses.below*seenMiss > depth {
		return fmt.Sprintf("No cylinder misses all the time. Single misses would be lost in the noise at %.0f rpm: %s.", rpm, advice)
	}
	return ""
}

// nearIdle is the speed below which none much lower can be asked for and nothing
// but the engine itself loads it, so that misses may be shallower than expected,
// rpm.
const nearIdle = 1100

// expectedAtMost is expectedMisses, or what the other cylinders show where that is
// more and misses do not stand apart: slow burns come in all alike.
func (a *analysis) expectedAtMost(slot int) float64 {
	expected := a.expectedMisses(slot)
	others := a.othersThan(slot)
	if a.misses.clear || others.fired == 0 {
		return expected
	}
	share := (float64(others.missed) + 0.5) / float64(others.fired)
	return max(expected, share*float64(a.tallies()[slot].fired))
}

// othersThan is the tally of all slots but one.
func (a *analysis) othersThan(slot int) (out tally) {
	for k, t := range a.tallies() {
		if k != slot {
			out.fired += t.fired
			out.missed += t.missed
		}
	}
	return out
}

// unseenShare is the greatest share of misses of a cylinder that could have
// shown too few of them to be called a misfire: its chance of fewestMisses is
// below confidence.
func (a *analysis) unseenShare() float64 {
	least := math.MaxInt
	for _, t := range a.tallies() {
		least = min(least, t.fired)
	}
	// Of a Poisson count with this mean 95 % are three or more.
	const surelyThree = 6.296
	return min(1, surelyThree/float64(max(1, least)))
}

// expectedMisses is how many misses a slot would show though it never missed:
// noise beyond the threshold, and misses of its neighbours taken for its own.
func (a *analysis) expectedMisses(slot int) float64 {
	m, t := a.misses, a.tallies()
	sum := noiseTail * above(m.threshold/m.below) * float64(t[slot].fired)
	b := a.scales.bankFor(binOf(a.mainJudgement().rpm))
	if b == nil {
		return sum
	}
	n := len(t)
	for lag := -b.reach; lag <= b.reach; lag++ {
		if at := wrapIndex(slot+lag, n); at != slot {
			// Two places whose answers are alike by g lie √(2(1−g)) misses apart.
			g := b.gains[slot][b.window.before+lag]
			sum += above(m.depth/m.sigma*math.Sqrt(max(0, 1-g)/2)) * float64(t[at].missed)
		}
	}
	return sum
}

// above is the share of a normal heap more than z standard deviations above its
// middle.
func above(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// byChance is the Poisson probability of at least k when so many are expected.
func byChance(k int, expected float64) float64 {
	term, below := math.Exp(-expected), 0.0
	for i := range k {
		below += term
		term *= expected / float64(i+1)
	}
	return max(0, 1-below)
}
