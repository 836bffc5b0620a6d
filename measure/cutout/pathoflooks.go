package cutout

import "math"

// reach is how far from the rough speed a speed is looked for, as shares of it, and
// at which speeds aside of the rough one the looks are taken: one that turns by some
// tenths of a cycle too far within a look hears nothing.
type reach struct {
	asides []float64 // ascending
	lacks  []float64 // of the rough speed, ascending by lackStep
	sudden float64   // standard deviations from which on a change costs no more than in proportion
}

// From look to look the speed changes by some per cent: a cut may take a fifth in
// half a second.
const (
	lackStep    = 0.0025
	changeShare = 0.02
	mostChange  = 0.2
	agreement   = 25.0 // weight of all harmonics agreeing, natural logarithms
)

// A cut of one of four may take a third of the speed before the idle control has
// seen it, a fifth within a tenth of a second, and a rough speed that means over
// seconds knows nothing of it. Sound has many more harmonics in several bands: there
// is always a wrong speed, far off, that some of them agree on (measured: looking as
// far lost it twice as often).
var (
	soundPasses  = [2]reach{reachOf(0.1, math.Inf(1), 0), reachOf(0.1, math.Inf(1), 0)}
	motionPasses = [2]reach{reachOf(0.35, 2, -0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3), reachOf(0.1, 2, 0)}
)

func reachOf(most, sudden float64, asides ...float64) reach {
	r := reach{asides: asides, sudden: sudden}
	n := int(math.Round(most / lackStep))
	for k := -n; k <= n; k++ {
		r.lacks = append(r.lacks, float64(k)*lackStep)
	}
	return r
}

// nearest is the place of the aside nearest to a lack.
func (r reach) nearest(lack float64) (best int) {
	for c, aside := range r.asides {
		if math.Abs(aside-lack) < math.Abs(r.asides[best]-lack) {
			best = c
		}
	}
	return best
}

// steps are the turns of the cycle from look to look in radians: the path that
// the harmonics of all bands agree on and that a flywheel can follow (Viterbi).
// The second result is how well they agree on it, from 0 to 1 on average.
func (e *ear) steps(middles []int, r reach) ([]float64, float64) {
	n := max(len(middles)-1, 0)
	step, agreed, from := make([]float64, n), make([][]float64, n), make([][]int16, n)
	var score []float64
	for i := range n {
		step[i] = e.phase[middles[i+1]] - e.phase[middles[i]]
		agreed[i] = e.agreed(i+1, step[i], r)
		here := make([]float64, len(r.lacks))
		for k, v := range agreed[i] {
			here[k] = agreement * v
		}
		if i > 0 {
			from[i] = r.follow(here, score, step[i]/step[i-1])
		}
		score = here
	}
	out, sum := make([]float64, n), 0.0
	at := 0
	for k, v := range score {
		if v > score[at] {
			at = k
		}
	}
	for i := n - 1; i >= 0; i-- {
		out[i] = step[i] * (1 + r.lacks[at])
		sum += agreed[i][at] / float64(n)
		if i > 0 {
			at = int(from[i][at])
		}
	}
	return out, sum
}

// agreed is how well look i agrees on each lack, 1 for all harmonics together. A
// speed that is off hears less of them, and what it does not hear disagrees.
func (e *ear) agreed(i int, step float64, r reach) []float64 {
	turns, top := make([][]complex128, len(r.asides)), 1e-30
	for c, looks := range e.aside {
		var total float64
		turns[c], total = e.turns(looks, i)
		top = math.Max(top, total)
	}
	out := make([]float64, len(r.lacks))
	for k, lack := range r.lacks {
		c := r.nearest(lack)
		out[k] = agree(turns[c], step*(lack-r.asides[c])) / top
	}
	return out
}

// follow adds to each lack the best way from the look before, and says which that
// is. faster is by how much the rough speed itself changed.
func (r reach) follow(score, before []float64, faster float64) (from []int16) {
	from = make([]int16, len(score))
	around := int(mostChange/lackStep) + 1
	for k := range score {
		middle := int(math.Round(((1+r.lacks[k])*faster - 1 - r.lacks[0]) / lackStep)) // where it would come from unchanged
		middle = min(max(middle, 0), len(before)-1)
		best, at := math.Inf(-1), middle
		for j := max(middle-around, 0); j <= min(middle+around, len(before)-1); j++ {
			z := (faster*(1+r.lacks[k])/(1+r.lacks[j]) - 1) / changeShare
			if v := before[j] - r.cost(z); v > best {
				best, at = v, j
			}
		}
		score[k] += best
		from[k] = int16(at)
	}
	return from
}

// cost is what a change of so many standard deviations costs, natural logarithm: a
// flywheel is steady, but an engine about to stop falls suddenly.
func (r reach) cost(z float64) float64 {
	if z = math.Abs(z); z > r.sudden {
		return r.sudden * (z - r.sudden/2)
	}
	return z * z / 2
}
