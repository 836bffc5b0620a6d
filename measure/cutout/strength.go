package cutout

import (
	"math"

	"halforder/finding"
)

// strengths is a state as a spread of strength: what share of a healthy
// cylinder's work it does.
type strengths struct{ w, p []float64 }

// Where the states begin and end, as a share of the healthy cylinders' effect.
// Healthy cylinders differ by about 5 % at idle (trade notes 3.1); the trade's
// example of a weak one gives 0.62 of the others. Judgement beyond that.
const (
	healthySpread = 0.05
	deadBelow     = 0.15
	weakBelow     = 0.85
)

// mostStrength is more than any cylinder does, a share of a healthy one's work.
const mostStrength = 1.7

// VerdictOf is the right verdict of a cylinder whose strength is known, a share of
// a healthy cylinder's work: for practice and simulation.
func VerdictOf(strength float64) Verdict {
	switch {
	case strength < deadBelow:
		return Dead
	case strength < weakBelow:
		return Weak
	}
	return Works
}

var stateStrengths = map[finding.State]strengths{
	finding.Works: workingStrengths(),
	finding.Weak:  evenly(deadBelow, weakBelow, 12),
	finding.Dead:  {[]float64{0, 0.05, 0.1}, []float64{0.6, 0.25, 0.15}},
}

// workingStrengths is a normal spread with a thin wide part, so that a good
// cylinder a little off is not called weak for it.
func workingStrengths() strengths {
	s := strengths{}
	for w := 0.82; w < mostStrength; w += 0.03 {
		z := (w - 1) / healthySpread
		p := 0.95 * math.Exp(-z*z/2) / (healthySpread * math.Sqrt(2*math.Pi)) * 0.03
		if w <= 1.5 {
			p += 0.05 * 0.03 / (1.5 - 0.82)
		}
		s.w, s.p = append(s.w, w), append(s.p, p)
	}
	return s.normalised()
}

func evenly(from, to float64, n int) strengths {
	s := strengths{}
	for i := range n {
		s.w = append(s.w, from+(to-from)*(float64(i)+0.5)/float64(n))
		s.p = append(s.p, 1)
	}
	return s.normalised()
}

func (s strengths) normalised() strengths {
	var sum float64
	for _, p := range s.p {
		sum += p
	}
	for i := range s.p {
		s.p[i] /= sum
	}
	return s
}

var states = []finding.State{finding.Works, finding.Weak, finding.Dead}

func stateIndex(s byte) int {
	switch finding.State(s) {
	case finding.Works:
		return 0
	case finding.Weak:
		return 1
	}
	return 2
}
