package order

// White and pink noise reach a mean score of 2.7 and a coherence of some 24;
// speech scores more but does not hold its pitch.
const (
	engineScore     = 3.0
	engineCoherence = 25.0
	shortScore      = 4.0 // with too few cycles to ask for coherence
	coherentCycles  = 40
)

// checkEngine tells an engine from noise and speech.
func (h *heard) checkEngine() error {
	score := h.total.score / float64(h.total.cycles)
	switch {
	case h.total.cycles < coherentCycles && score < shortScore:
		return &NoEngineError{score, shortScore}
	case h.total.cycles < coherentCycles:
		return nil
	case score < engineScore:
		return &NoEngineError{score, engineScore}
	}
	if c := h.coherence(); c < engineCoherence {
		return &NoEngineError{c, engineCoherence}
	}
	return nil
}

// coherence is the power of the folded firing orders over the variance of
// their mean, in the band where it is largest, over the last stretch: 1 for
// chance.
func (h *heard) coherence() float64 {
	var best float64
	n := h.layout.N()
	last := h.last()
	for b := range h.bands {
		p := fold(last, b, h.harmonics)
		var sum, lines float64
		for m := 1; m <= 3; m++ {
			if p.noise[m*n-1] > 0 {
				sum += sq(p.mean[m*n-1]) / p.noise[m*n-1]
				lines++
			}
		}
		best = max(best, sum/max(lines, 1))
	}
	return best
}
