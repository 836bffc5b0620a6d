package cutout

import (
	"math"
	"slices"
)

// scan is what each cell of a residual says of a change of load that begins
// there, and how the answers of two changes overlap.
type scan struct {
	sum, norm []float64 // score and information for amplitude 1, in units of the noise
	cross     []float64 // by cells apart: overlap of two answers as a share of one
}

// scan matches the answer at every cell; what lacks samples has no information.
func (m *model) scan(s shape, residual []float64) scan {
	t, white := m.template(s), m.whiten(residual)
	noise := robustSigma(white)
	out := scan{make([]float64, len(white)), make([]float64, len(white)), make([]float64, len(t.x))}
	for k := range white {
		sum, norm := t.along(white, k)
		if norm >= leastOfAnswer*t.norm {
			out.sum[k], out.norm[k] = sum/(noise*noise), norm/(noise*noise)
		}
	}
	for d := range out.cross {
		for j := d; j < len(t.x); j++ {
			out.cross[d] += t.x[j] * t.x[j-d] / t.norm
		}
	}
	return out
}

// pulse is the amplitude of a cut from cell k to cell k+d, whose end answers
// with ratio times its beginning.
func (c scan) pulse(k, d int, ratio float64) (e Estimate, ok bool) {
	if k < 0 || k+d >= len(c.sum) || c.norm[k] == 0 || c.norm[k+d] == 0 {
		return e, false
	}
	both := 0.0
	if d < len(c.cross) {
		both = c.cross[d] * math.Sqrt(c.norm[k]*c.norm[k+d])
	}
	information := c.norm[k] + ratio*ratio*c.norm[k+d] - 2*ratio*both
	if information <= 0 {
		return e, false
	}
	return Estimate{(c.sum[k] - ratio*c.sum[k+d]) / information, 1 / math.Sqrt(information)}, true
}

// loadPrice is what a change of load that is no part of a cut costs, natural
// logarithm: its place among some thousand, and how rare it is (judgement).
const loadPrice = 7.0

// alone is how well a change of load at cell k explains what is there.
func (c scan) alone(k int) float64 {
	if c.norm[k] == 0 {
		return 0
	}
	return math.Max(0, c.sum[k]*c.sum[k]/(2*c.norm[k])-loadPrice)
}

// Cuts that are looked for: how long, s, and what a cut must explain beyond what
// changes of load would, natural logarithm: there are some thousand places and
// ten lengths to choose from.
const (
	pulseLeast, pulseMost = 1.0, 12.0
	pulseUsual            = 4.0
	pulseSpread           = 0.5
	pulseExplains         = 11.0
	calledExplains        = 9.0 // while fewer are found than were called
	shortestPause         = 1.5
	firstBaseline         = 2.0 // before the first cut
)

// nextPulse is the cut that explains most of a residual and lies clear of those
// known. A lone fall is explained as well by a load.
func (m *model) nextPulse(c scan, known []Cut, least float64) (best Cut, ok bool) {
	most := 0.0
	for k := range c.sum {
		start := m.at(k)
		if c.sum[k] <= 0 || start < m.start+firstBaseline {
			continue
		}
		for d := int(pulseLeast / m.step); d <= int(pulseMost/m.step); d++ {
			end := m.at(k + d)
			if touches(known, start-shortestPause, end+shortestPause) {
				break
			}
			e, there := c.pulse(k, d, 1)
			if !there || e.Value <= 0 || c.sum[k+d] >= 0 {
				continue
			}
			z, off := e.Value/e.Sigma, math.Log((end-start)/pulseUsual)/pulseSpread
			v := z*z/2 - off*off/2
			if v > most && v-c.alone(k)-c.alone(k+d) >= least {
				best, most = Cut{Start: start, End: end, Seen: true, EndSeen: true}, v
			}
		}
	}
	return best, most > 0
}

func touches(cuts []Cut, from, to float64) bool {
	return slices.ContainsFunc(cuts, func(c Cut) bool { return c.Start < to && c.End > from })
}

// pulses finds cuts one after the other, each as a fall and the rise that ends it,
// refitting all and learning control and noise on the way.
func (m *model) pulses(s shape, known []Cut, called, most int) ([]Cut, shape) {
	cuts := slices.Clone(known)
	for range 3 {
		before := len(cuts)
		for len(cuts) < most {
			c := m.scan(s, m.fitEvents(s, endsOf(cuts)).residual)
			least := pulseExplains
			if len(cuts) < called {
				least = calledExplains
			}
			next, ok := m.nextPulse(c, cuts, least)
			if !ok {
				break
			}
			cuts = append(cuts, next)
		}
		if len(cuts) == 0 {
			break
		}
		m.setNoise(m.fitEvents(s, endsOf(cuts)).residual)
		s = m.reshape(endsOf(cuts))
		m.setNoise(m.fitEvents(s, endsOf(cuts)).residual)
		if len(cuts) == before {
			break
		}
	}
	return byTime(cuts), s
}

func endsOf(cuts []Cut) (events []event) {
	for _, c := range cuts {
		events = append(events, event{at: c.Start}, event{at: c.End})
	}
	return events
}
