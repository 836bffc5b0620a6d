package cutout

import (
	"math"

	"halforder/measure/cutout/changepoint"
)

// levelStep is the grid of the level segmentation, s, and shortestLevel the
// least stretch in cells of it.
const (
	levelStep     = 0.2
	shortestLevel = 5
)

// level is a change of level at a time, by channel in standard deviations.
type level struct {
	at float64
	z  []float64
}

// levelChanges cuts the tracks that keep a new level during a cut (roughness,
// effort of the idle control) into stretches of constant level, exactly.
func levelChanges(tracks []Track, from, to float64) ([]level, error) {
	var channels [][]float64
	var sigma []float64
	for _, t := range tracks {
		g := t.resampled(from, to, levelStep)
		flat := g.detrend(g.y, 2*detrendSeconds)
		s := longRunSigma(flat)
		if s > 0 && finite(s) {
			channels, sigma = append(channels, flat), append(sigma, s)
		}
	}
	if len(channels) == 0 {
		return nil, nil
	}
	series, err := changepoint.New(channels, sigma)
	if err != nil {
		return nil, err
	}
	// Twice MBIC: the noise has a memory and drift bends the levels.
	breaks := series.Breaks(2*changepoint.MBIC(series.Len(), len(channels)), shortestLevel)
	return changes(channels, sigma, breaks, from), nil
}

// changes turns breaks into changes of the mean from the stretch before to the
// stretch after.
func changes(channels [][]float64, sigma []float64, breaks []int, from float64) []level {
	var out []level
	for i, b := range breaks {
		before, after := 0, len(channels[0])
		if i > 0 {
			before = breaks[i-1]
		}
		if i+1 < len(breaks) {
			after = breaks[i+1]
		}
		l := level{at: from + float64(b)*levelStep}
		for c, x := range channels {
			size := meanThere(x[b:after]) - meanThere(x[before:b])
			l.z = append(l.z, size/(sigma[c]*math.Sqrt(1/float64(b-before)+1/float64(after-b))))
		}
		out = append(out, l)
	}
	return out
}

// undone is how surely a later change takes back an earlier one: the negated
// product of both, 0 for channels that are not there.
func (l level) undone(later level) (score float64) {
	for c := range l.z {
		if v := l.z[c] * later.z[c]; finite(v) {
			score -= v
		}
	}
	return score
}

// along is the part of the change in a direction.
func (l level) along(direction []float64) (sum float64) {
	for c, z := range l.z {
		if v := z * direction[c]; finite(v) {
			sum += v
		}
	}
	return sum
}

func meanThere(x []float64) float64 {
	var sum, n float64
	for _, v := range x {
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

// resampled averages t into cells of the given step from `from` to `to`.
func (t Track) resampled(from, to, step float64) grid {
	g := grid{start: from, step: step, y: make([]float64, max(int((to-from)/step)+1, 1))}
	count := make([]float64, len(g.y))
	for i, at := range t.T {
		if k := int((at-from)/step + 0.5); k >= 0 && k < len(g.y) {
			g.y[k] += t.Y[i]
			count[k]++
		}
	}
	for k := range g.y {
		g.y[k] /= count[k]
	}
	g.bridge()
	return g
}

// longRunSigma is the noise of means of neighbouring samples, scaled back to
// one sample: what matters when the noise has a memory. From differences of
// block means, so that steps hardly count.
func longRunSigma(x []float64) float64 {
	const block = 5
	var means []float64
	for i := 0; i+block <= len(x); i += block {
		means = append(means, meanThere(x[i:i+block]))
	}
	var d []float64
	for i := 1; i < len(means); i++ {
		if v := math.Abs(means[i] - means[i-1]); !math.IsNaN(v) {
			d = append(d, v)
		}
	}
	return median(d) / 0.6745 / math.Sqrt2 * math.Sqrt(block)
}

// steady is the change of a track's level during each cut against the stretches
// beside it, with the spread of the same measure where nothing was cut.
func (t Track) steady(cuts []Cut, busy []span) []Estimate {
	out := make([]Estimate, len(cuts))
	placebo := t.placebo(cuts, busy)
	for i, c := range cuts {
		v, ok := t.contrast(c.Start, c.End, busy)
		if !ok {
			v, out[i].Sigma = 0, math.Inf(1)
		} else {
			out[i].Sigma = placebo
		}
		out[i].Value = v
	}
	return out
}

// Times around a cut in which levels count: after the answer of the control and
// well clear of the cut itself.
const (
	settleSeconds = 1.2
	clearSeconds  = 2.0
	besideSeconds = 6.0
)

// contrast is the mean inside minus the mean of what lies on both sides (on one
// side at the ends of the record).
func (t Track) contrast(start, end float64, busy []span) (float64, bool) {
	settle := min(settleSeconds, (end-start)/3)
	inside, ni := t.meanFree(start+settle, end, nil)
	before, nb := t.meanFree(start-besideSeconds, start-0.3, busy)
	after, na := t.meanFree(end+clearSeconds, end+clearSeconds+besideSeconds, busy)
	switch {
	case ni < 2 || nb+na < 4:
		return 0, false
	case nb < 2:
		return inside - after, true
	case na < 2:
		return inside - before, true
	}
	return inside - (before+after)/2, true
}

func (t Track) meanFree(from, to float64, busy []span) (mean float64, n int) {
	var sum float64
	for i, at := range t.T {
		if at < from || at >= to || inAny(busy, at) {
			continue
		}
		sum += t.Y[i]
		n++
	}
	return sum / float64(max(n, 1)), n
}

func inAny(spans []span, t float64) bool {
	for _, s := range spans {
		if s.holds(t) {
			return true
		}
	}
	return false
}

// placebo is the standard deviation of contrast at places without a cut.
func (t Track) placebo(cuts []Cut, busy []span) float64 {
	var length []float64
	for _, c := range cuts {
		length = append(length, c.length())
	}
	usual := max(median(length), 2*shortestCut)
	var values []float64
	for at := t.T[0] + 1; at < t.T[len(t.T)-1]-usual-1; at += usual / 3 {
		if clear(at, at+usual, busy) {
			if v, ok := t.contrast(at, at+usual, busy); ok {
				values = append(values, math.Abs(v))
			}
		}
	}
	if len(values) >= 6 {
		return median(values) / 0.6745
	}
	// Too crowded for placebos: the noise of samples, with a memory of a second.
	return 2 * longRunSigma(t.Y) / math.Sqrt(max(usual, 1))
}

func clear(from, to float64, busy []span) bool {
	for _, s := range busy {
		if s.from < to && s.to > from {
			return false
		}
	}
	return true
}
