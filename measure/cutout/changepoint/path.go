package changepoint

import (
	"math"
	"slices"
)

// Step is one answer on the path of penalties.
type Step struct {
	Breaks []int
	RSS    float64
	From   float64 // the answer is best from this penalty up to the next step's
}

// Path lists every optimal answer for penalties from low to high, by falling
// number of breaks (CROPS: Haynes, Eckley and Fearnhead, cited from memory).
func (s *Series) Path(low, high float64, least int) []Step {
	first, last := s.step(low, least), s.step(high, least)
	steps := s.between(first, last, least)
	steps[0].From = low
	for i := 1; i < len(steps); i++ {
		steps[i].From = crossing(steps[i-1], steps[i])
	}
	return steps
}

func (s *Series) step(penalty float64, least int) Step {
	b := s.Breaks(penalty, least)
	return Step{Breaks: b, RSS: s.Total(b)}
}

// between lists the steps from a to b, both included.
func (s *Series) between(a, b Step, least int) []Step {
	if len(a.Breaks) == len(b.Breaks) {
		return []Step{a}
	}
	if len(a.Breaks) == len(b.Breaks)+1 {
		return []Step{a, b}
	}
	middle := s.step(crossing(a, b), least)
	if len(middle.Breaks) == len(a.Breaks) || len(middle.Breaks) == len(b.Breaks) || !better(middle, a, b) {
		return []Step{a, b}
	}
	return append(s.between(a, middle, least), s.between(middle, b, least)[1:]...)
}

// better reports whether m beats a and b where those two cost the same; a tie
// is no step of its own.
func better(m, a, b Step) bool {
	p := crossing(a, b)
	return m.RSS+p*float64(len(m.Breaks)) < a.RSS+p*float64(len(a.Breaks))-1e-9*(1+math.Abs(a.RSS))
}

// crossing is the penalty at which a and b cost the same.
func crossing(a, b Step) float64 {
	return (b.RSS - a.RSS) / float64(len(a.Breaks)-len(b.Breaks))
}

// The penalties in use for a change of mean: one parameter a channel and the
// place of the break (methods notes D, there for one channel).

// BIC is the Bayesian penalty, 2·ln n for one channel.
func BIC(n, channels int) float64 { return float64(channels+1) * math.Log(float64(n)) }

// MBIC is the modified Bayesian penalty, 3·ln n for one channel.
func MBIC(n, channels int) float64 { return float64(channels+2) * math.Log(float64(n)) }

// AIC is 2 for each parameter, 4 for one channel.
func AIC(channels int) float64 { return 2 * float64(channels+1) }

// HannanQuinn is 2·ln ln n for each parameter, 4·ln ln n for one channel.
func HannanQuinn(n, channels int) float64 {
	return 2 * float64(channels+1) * math.Log(math.Log(float64(n)))
}

// Thresholds are the penalties at which the number of breaks changes.
func Thresholds(path []Step) []float64 {
	var out []float64
	for _, s := range path[1:] {
		out = append(out, s.From)
	}
	slices.Sort(out)
	return out
}
