package crank

import (
	"math"

	"halforder/finding"
)

// A cylinder that gives nothing gives the same nothing every time: the work of
// the others scatters from cycle to cycle, its own only by what the measurement
// and its neighbours bring. That is no matter of marks out of place.

const (
	// ownScatter is how far, as a logarithm, the scatters of sound cylinders differ.
	ownScatter = 0.2
	// madScatter is the standard error of the logarithm of a scatter told by the
	// median deviation of one firing (published: asymptotic variance of the MAD).
	madScatter = 1.16
	// mostStillness caps how much stillness alone may say for a pattern.
	mostStillness = 3.0
)

// burnShares are the shares of a scatter's square that burning may make, and how
// much each is believed: where the road is rough there is no stillness to see.
var burnShares = []weighted{{0, 0.64}, {0.15, 0.06}, {0.3, 0.06}, {0.45, 0.06}, {0.6, 0.06}, {0.75, 0.06}, {0.9, 0.06}}

// stillness is how the works of each position scatter.
type stillness struct {
	dev []float64 // as logarithms
	err float64   // of each
}

// newStillness is nil where a position was weighed too rarely to tell.
func newStillness(stats []slotStats) *stillness {
	if len(stats) < 2 {
		return nil
	}
	s := &stillness{}
	fewest := math.MaxInt
	for _, x := range stats {
		if !(x.dev > 0) {
			return nil
		}
		s.dev = append(s.dev, math.Log(x.dev))
		fewest = min(fewest, x.n)
	}
	s.err = math.Hypot(ownScatter, madScatter/math.Sqrt(float64(fewest)))
	return s
}

// say is what the scatters tell for a pattern against all working, at most
// mostStillness: stillness speaks, but on a rough road its want says nothing.
func (s *stillness) say(p slotPattern) float64 {
	if s == nil {
		return 0
	}
	sum, sound := &logSum{}, s.around(finding.AllWork(len(s.dev)), 0, 0)
	for _, c := range burnShares {
		for _, weak := range weakWork {
			if !hasWeak(p) {
				weak = weighted{0, 1}
			}
			sum.add(s.around(p, c.value, weak.value)-sound+math.Log(c.weight*weak.weight), 0)
			if !hasWeak(p) {
				break
			}
		}
	}
	return max(0, min(mostStillness, sum.log()))
}

// around is ln P(scatters | pattern), their common level unknown, when burning
// makes that share of their squares and a weak cylinder scatters so much of what
// a sound one does.
func (s *stillness) around(p slotPattern, burning, weak float64) float64 {
	dead, low := math.Log(1-burning)/2, math.Log(1-burning*(1-weak*weak))/2
	sum, squares := 0.0, 0.0
	for k, x := range s.dev {
		switch finding.State(p[k]) {
		case finding.Dead:
			x -= dead
		case finding.Weak:
			x -= low
		}
		sum, squares = sum+x, squares+x*x
	}
	return -(squares - sum*sum/float64(len(s.dev))) / (2 * s.err * s.err)
}
