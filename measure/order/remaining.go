package order

import (
	"math"
	"slices"
)

// mostLeft is how much of a firing's energy a miss may leave. Judgement: dead
// cylinders leave 0.05 to 0.7, with valves and the neighbours' ring; firings of
// a healthy engine that are told apart by their time or by the speed 0.9 to 1.
const mostLeft = 0.8

// Where the engine slows plainly as well, less quiet will do. Judgement: one that
// is healthy and wanders reaches a sign of 10 and leaves 0.93, or 0.88 with a sign
// of 1; on practice engines, loud all over, misses leave 0.73 to 0.89.
const (
	plainSign = 12.0
	plainLeft = 0.92
)

// Where one firing alone falls plainly quiet and the kinds stand well apart, the
// engine need not be seen to slow: a flywheel, or the idle control, may hide it.
// A lost count of firings makes another place louder. Judgement: healthy engines
// leave 0.88, and misses raise the others by 1.1 at most.
const (
	quietLeft  = 0.7
	quietRises = 1.2
)

// early is how much of a firing before its beginning counts as its own: what is
// heard early or late, by its own way to the microphone, is not quiet.
const early = 0.5

// energies are those of each firing, by band, any unit.
func (r *beatRun) energies() [][]float64 {
	if r.energy != nil {
		return r.energy
	}
	r.energy = matrix(len(r.grid.rows), max(len(r.begins)-1, 0))
	var sums []float64
	for b, row := range r.grid.rows {
		sums = grown(sums, len(row)+1)
		sum := 0.0
		for i, v := range row {
			sum += r.grid.energy(b, v)
			sums[i+1] = sum
		}
		for j := range r.energy[b] {
			from, to := r.begins[j], r.begins[j+1]
			from = max(0, from-int(early*float64(to-from)))
			r.energy[b][j] = (sums[to] - sums[from]) / float64(max(to-from, 1))
		}
	}
	return r.energy
}

// energy of a value of a band: the first is a wave, the others are logarithms of
// loudness.
func (g *beatGrid) energy(band int, v float32) float64 {
	if band == 0 {
		return float64(v) * float64(v)
	}
	return math.Exp(2 * float64(v*g.spread[band]))
}

// quiets reports whether one kind of cycles has a firing that falls quiet.
func (k kinds) quiets() bool {
	return k.left <= mostLeft || k.left <= plainLeft && k.sign >= plainSign
}

// quietAlone reports whether one firing falls quiet, and no other loud.
func (k kinds) quietAlone() bool {
	return k.apart >= troubleApart && k.left <= quietLeft && k.rises <= quietRises
}

// remaining is how much of the energy of the firings at some places of the cycle
// is left in misses against the other cycles, 1 where they are alike or misses
// are too few: the geometric mean over the bands. miss gives the chance of a
// miss, by firing.
func (r *beatRun) remaining(slots []int, miss []float64) float64 {
	var total float64
	for _, energy := range r.energies() {
		var misses, found, usual float64
		for _, s := range slots {
			var quiet, quiets, loud, louds float64
			for j := s; j < min(len(miss), len(energy)); j += r.n {
				quiet, quiets = quiet+miss[j]*energy[j], quiets+miss[j]
				loud, louds = loud+(1-miss[j])*energy[j], louds+1-miss[j]
			}
			if louds >= fewQuiet {
				misses, found, usual = misses+quiets, found+quiet, usual+quiets*loud/louds
			}
		}
		if misses < fewQuiet || usual == 0 {
			return 1
		}
		total += math.Log(max(found/usual, 1e-6))
	}
	return math.Exp(total / float64(len(r.grid.rows)))
}

// quietedOf keeps the places of the cycle that fall quiet in their misses. What
// is too rare at one place to be weighed is weighed at all places together.
func (r *beatRun) quietedOf(slots []int, miss []float64) []int {
	var out []int
	together := r.remaining(slots, miss) <= mostLeft
	for _, s := range slots {
		left := r.remaining([]int{s}, miss)
		if left <= mostLeft || left == 1 && together {
			out = append(out, s)
		}
	}
	return out
}

// quieted is the place of the cycle that falls quiet most in one kind of cycle,
// which begin with firing first, how much is left there against what is left of
// the usual firing, as speed makes all louder or quieter, the same of the place
// that gets loudest, and what is left of the usual one itself.
func (r *beatRun) quieted(first int, chance []float64) (slot int, left, rises, usual float64) {
	miss := make([]float64, first+len(chance)*r.n)
	for c, q := range chance {
		for s := range r.n {
			miss[first+c*r.n+s] = q
		}
	}
	all := make([]float64, r.n)
	for s := range all {
		all[s] = r.remaining([]int{s}, miss)
		if all[s] < all[slot] {
			slot = s
		}
	}
	left = all[slot]
	slices.Sort(all)
	usual = all[r.n/2]
	return slot, left / usual, all[r.n-1] / usual, usual
}
