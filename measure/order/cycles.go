package order

import (
	"math"
	"math/cmplx"
	"slices"
)

const emRounds = 40

func column(rows [][]float64, k int) []float64 {
	out := make([]float64, len(rows))
	for c := range out {
		out[c] = rows[c][k]
	}
	return out
}

// cycleStrengths gives the strength of every slot in every cycle: the upper
// views added, each by how little it scatters. Nil when none is clear.
func (f *folded) cycleStrengths() [][]float64 {
	n := f.layout.N()
	out := make([][]float64, len(f.cycles))
	for c := range out {
		out[c] = make([]float64, n)
	}
	var total float64
	first, haveFirst := 0.0, false
	for _, v := range viewsOf(len(f.bands), f.harmonics, n) {
		if v.low || f.bands[v.band].clarity(v, n) < clearView {
			continue
		}
		cut := f.cutOf(v)
		if !haveFirst {
			first, haveFirst = cut.pulse(), true
		}
		turn := 0
		if f.layout.Even() {
			turn = int(math.Round(cut.pulse() - first))
		}
		total += f.addView(out, v, cut, turn)
	}
	if total == 0 {
		return nil
	}
	for _, row := range out {
		for k := range row {
			row[k] /= total
		}
	}
	return out
}

// addView adds one view's strengths, weighted, and returns the weight.
func (f *folded) addView(out [][]float64, v view, cut cut, turn int) float64 {
	n := f.layout.N()
	rows := make([][]float64, len(f.cycles))
	filter := cut.filter(f.harmonics, perSlot*n)
	for c, one := range f.cycles {
		rows[c] = filter.strengths(one.phasors[v.band*f.harmonics:][:f.harmonics])
	}
	scatter := make([]float64, n)
	for k := range n {
		var sum, square float64
		for _, r := range rows {
			sum += r[k]
			square += r[k] * r[k]
		}
		mean := sum / float64(len(rows))
		scatter[k] = square/float64(len(rows)) - mean*mean
	}
	weight := 1 / max(median(scatter), 1e-6)
	for c, r := range rows {
		for k := range n {
			out[c][((k+turn)%n+n)%n] += weight * r[k]
		}
	}
	return weight
}

// slotFilter takes the strengths of the slots straight from the phasors of a
// cycle, as cut.strengths does from its curve.
type slotFilter struct {
	weights [][]complex64 // by slot and harmonic
	offset  float64
	norm    float64
}

// filter of an upper view's cut, for curves of so many points.
func (c cut) filter(harmonics, points int) slotFilter {
	f := slotFilter{weights: make([][]complex64, len(c.starts)), norm: c.norm}
	for _, d := range c.shape {
		f.offset += d * c.base
	}
	for h := 1; h <= harmonics; h++ {
		angle := 2 * math.Pi * float64(h) / float64(points)
		var shape complex128
		for i, d := range c.shape {
			shape += complex(2*d, 0) * cmplx.Rect(1, angle*float64(i))
		}
		for k, start := range c.starts {
			f.weights[k] = append(f.weights[k], complex64(shape*cmplx.Rect(1, angle*float64(start+c.late[k]))))
		}
	}
	return f
}

func (f slotFilter) strengths(phasors []complex64) []float64 {
	s := make([]float64, len(f.weights))
	for k, weights := range f.weights {
		var sum float32
		for h, w := range weights {
			p := phasors[h]
			sum += real(p)*real(w) - imag(p)*imag(w)
		}
		s[k] = float64(sum) - f.offset
	}
	return scaled(s, f.norm)
}

// mixture is two normal laws of one spread: of cycles that fire and that miss.
type mixture struct{ fires, misses, spread, share float64 }

// quiet is the chance that a value is of a miss.
func (m mixture) quiet(v float64) float64 {
	return 1 / (1 + m.against()*math.Exp(m.slope()*(v-(m.misses+m.fires)/2)))
}

// against is the odds of no miss halfway between the two.
func (m mixture) against() float64 { return (1 - m.share) / m.share }

// slope is by how much the logarithm of the odds of no miss grows with a value.
func (m mixture) slope() float64 { return (m.fires - m.misses) / (m.spread * m.spread) }

// mixtureOf fits it, beginning with low and high values alike; see fitted.
func mixtureOf(values []float64) (mixture, bool) {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	m := mixture{fires: sorted[n*9/10], misses: sorted[n/10], share: 0.5}
	m.spread = max(spreadOf(values, mean(values))/2, 1e-6)
	return m.fitted(values)
}

// fitted goes on from a beginning until nothing changes; false when one of the
// two is left with less than a value.
func (m mixture) fitted(values []float64) (mixture, bool) {
	n := len(values)
	var all, squares float64
	for _, v := range values {
		all, squares = all+v, squares+v*v
	}
	for range emRounds {
		var weight, low float64
		against, slope, middle := m.against(), m.slope(), (m.misses+m.fires)/2
		for _, v := range values {
			q := 1 / (1 + against*math.Exp(slope*(v-middle))) // m.quiet(v)
			weight += q
			low += q * v
		}
		if !(weight >= 1 && weight <= float64(n)-1) {
			return mixture{}, false
		}
		high := all - low
		// Σq(v−misses)² + (1−q)(v−fires)², multiplied out
		square := squares + m.misses*(m.misses*weight-2*low) + m.fires*(m.fires*(float64(n)-weight)-2*high)
		next := mixture{fires: high / (float64(n) - weight), misses: low / weight, share: weight / float64(n)}
		next.spread = math.Sqrt(max(square/float64(n), 1e-12))
		if next == m {
			break
		}
		m = next
	}
	return m, true
}

// proof is how much likelier values are of two laws than of one, ln, less the
// price of two more numbers.
func (m mixture) proof(values []float64) float64 {
	return m.logLikelihood(values) - oneKind(values, spreadOf(values, mean(values))) - math.Log(float64(len(values)))
}

func (m mixture) logLikelihood(values []float64) float64 {
	var sum float64
	for _, v := range values {
		a, b := (v-m.misses)/m.spread, (v-m.fires)/m.spread
		sum += logAdd(math.Log(m.share)-a*a/2, math.Log(1-m.share)-b*b/2) - math.Log(m.spread)
	}
	return sum
}

func oneKind(values []float64, spread float64) float64 {
	return -float64(len(values)) * (0.5 + math.Log(max(spread, 1e-6)))
}

func spreadOf(values []float64, mean float64) float64 {
	var sum float64
	for _, v := range values {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(values)))
}
