package cutout

import (
	"math"
	"math/rand/v2"
	"slices"
)

// A schedule is a hidden semi-Markov model of a test whose cuts were called in
// order and not marked: each called cut begins some pause after the one before
// and lasts about as long as the others. What it took away may be anything from
// nothing, when it leaves no trace, to a healthy cylinder's share.
type schedule struct {
	places int
	slots  []slot
	length rhythm
	pause  rhythm

	begins, ends [][]float64 // slot, place: weight of all ways up to there
	logP         float64     // of the record, over no cut at all
}

// slot is one called cut.
type slot struct {
	effects *effects  // of cuts of so many cylinders
	chance  []float64 // of each share, beforehand
	pairs   []float64 // by beginning and length: weight of a cut there
}

// shares of a healthy cylinder that a cut may take away, and how likely each is
// beforehand (judgement, after trade notes 2.1).
var (
	shares       = []float64{0, 0.2, 0.4, 0.6, 0.9, 1, 1.1}
	shareChances = []float64{0.1, 0.03, 0.03, 0.04, 0.2, 0.4, 0.2}
)

const (
	dazzle       = 6.0 // what a stall says for a cut just before it, natural logarithm
	stallsWithin = 2.4 // s
)

// effects are the likelihood ratios of a beginning and an end: by share, by
// place; and what to correct them by when both answers overlap: by share, by
// length.
type effects struct{ begin, end, both [][]float64 }

func newEffects(t trace, cylinders float64, places int, stalls []int) *effects {
	e := &effects{}
	for _, share := range shares {
		begin, end := make([]float64, places), make([]float64, places)
		for i := range begin {
			begin[i] = ratio(t.z[i], share*cylinders, t.begin)
			end[i] = ratio(t.z[i], -share*cylinders, t.end)
		}
		for _, stall := range stalls {
			for i := max(stall-int(math.Round(stallsWithin/placeStep)), 0); i < min(stall, places); i++ {
				begin[i] = math.Exp(dazzle * share)
			}
		}
		both := make([]float64, places)
		for d := range both {
			both[d] = t.overlap(d, share*cylinders)
		}
		e.begin, e.end, e.both = append(e.begin, begin), append(e.end, end), append(e.both, both)
	}
	return e
}

// weighPairs fills in the weights of all cuts whose length the rhythm allows.
func (s *slot) weighPairs(length rhythm, places int) {
	n := len(length.chance)
	s.pairs = make([]float64, places*n)
	for w, p := range s.chance {
		for i, b := range s.effects.begin[w] {
			first := i + length.least
			row, ends := s.pairs[i*n:(i+1)*n], s.effects.end[w][min(first, places):min(first+n, places)]
			for d, e := range ends {
				row[d] += p * b * e * s.effects.both[w][d+length.least]
			}
		}
	}
	for i := range places {
		for d, p := range length.chance {
			s.pairs[i*n+d] *= p
		}
	}
}

// rhythm is a time that repeats, in places: mostly about the same, now and then
// anything.
type rhythm struct {
	usual, spread float64 // spread of the logarithm
	least, most   int
	chance        []float64 // by number of places less least
}

const rhythmBroken, brokenSpread = 0.08, 0.9

func newRhythm(usual, spread, least, most float64) rhythm {
	r := rhythm{usual: usual, spread: spread, least: int(math.Ceil(least / placeStep)), most: int(most / placeStep)}
	var sum float64
	for d := r.least; d <= max(r.most, r.least); d++ {
		z := math.Log(float64(d) / usual)
		p := ((1-rhythmBroken)*math.Exp(-z*z/(2*spread*spread))/spread + rhythmBroken*math.Exp(-z*z/(2*brokenSpread*brokenSpread))/brokenSpread) / float64(d)
		r.chance, sum = append(r.chance, p), sum+p
	}
	for i := range r.chance {
		r.chance[i] /= math.Max(sum, 1e-300)
	}
	return r
}

// beside is the weight of a stretch before the first cut or after the last: of
// the order of a pause, or a tenth of it, or ten times.
func (r rhythm) beside(places int) float64 {
	z := math.Log((float64(places)+1)/r.usual) / 1.2
	return math.Exp(-z * z / 2)
}

// forward sums over all ways to place the cuts.
func (s *schedule) forward() {
	s.begins, s.ends, s.logP = nil, nil, 0
	begin := make([]float64, s.places)
	for i := range begin {
		begin[i] = s.pause.beside(i)
	}
	for j := range s.slots {
		s.begins = append(s.begins, begin)
		end := make([]float64, s.places)
		s.eachPair(j, begin, func(i, k int, p float64) { end[k] += begin[i] * p })
		s.logP += scaled(end)
		s.ends = append(s.ends, end)
		begin = s.pause.after(end)
	}
	last := s.ends[len(s.ends)-1]
	var sum float64
	for i, v := range last {
		sum += v * s.pause.beside(s.places-1-i)
	}
	s.logP += math.Log(math.Max(sum, 1e-300))
}

// negligible is the share of the greatest weight below which a way is not followed.
const negligible = 1e-9

// eachPair visits the beginnings and ends of slot j that count.
func (s *schedule) eachPair(j int, begin []float64, f func(i, k int, p float64)) {
	n, least := len(s.length.chance), negligible*slices.Max(begin)
	for i, b := range begin {
		if b <= least {
			continue
		}
		first := i + s.length.least
		for d, p := range s.slots[j].pairs[i*n : i*n+max(min(n, s.places-first), 0)] {
			f(i, first+d, p)
		}
	}
}

func (r rhythm) after(end []float64) []float64 {
	out := make([]float64, len(end))
	least := negligible * slices.Max(end)
	for i, v := range end {
		if v <= least {
			continue
		}
		for d, p := range r.chance {
			if k := i + r.least + d; k < len(out) {
				out[k] += v * p
			}
		}
	}
	return out
}

// scaled brings the greatest of x to 1 and returns the logarithm of what it was.
func scaled(x []float64) float64 {
	top := math.Max(slices.Max(x), 1e-300)
	for i := range x {
		x[i] /= top
	}
	return math.Log(top)
}

// learnt is what a pass over all ways teaches.
type learnt struct {
	begin, end    [][]float64 // share, place: how often a cut of that share began or ended there
	length, pause []float64   // by places: how often
	message       [][]float64 // slot, share: what the record says of it, apart from chance
}

// backward sums over all ways from the end, and learns.
func (s *schedule) backward() learnt {
	l := learnt{length: make([]float64, s.places), pause: make([]float64, s.places)}
	for range shares {
		l.begin, l.end = append(l.begin, make([]float64, s.places)), append(l.end, make([]float64, s.places))
	}
	l.message = make([][]float64, len(s.slots))
	after := make([]float64, s.places) // an end's weight of what comes after
	for i := range after {
		after[i] = s.pause.beside(s.places - 1 - i)
	}
	for j := len(s.slots) - 1; j >= 0; j-- {
		before := l.slot(s, j, after)
		if j > 0 {
			after = l.gap(s, j, before)
		}
	}
	return l
}

// slot learns from slot j and returns each beginning's weight of what comes after.
func (l *learnt) slot(s *schedule, j int, after []float64) []float64 {
	before, slot := make([]float64, s.places), s.slots[j]
	var total float64
	s.eachPair(j, s.begins[j], func(i, k int, p float64) {
		before[i] += p * after[k]
		total += s.begins[j][i] * p * after[k]
	})
	l.message[j] = make([]float64, len(shares))
	total = math.Max(total, 1e-300)
	for i, b := range s.begins[j] {
		if b*before[i] < 1e-4*total {
			continue
		}
		for d, p := range s.length.chance {
			k := i + s.length.least + d
			if k >= s.places {
				break
			}
			for w, chance := range slot.chance {
				v := b * p * slot.effects.begin[w][i] * slot.effects.end[w][k] * slot.effects.both[w][k-i] * after[k] / total
				l.message[j][w] += v
				v *= chance
				l.begin[w][i] += v
				l.end[w][k] += v
				l.length[k-i] += v
			}
		}
	}
	scaled(before)
	return before
}

// gap learns from the pause before slot j.
func (l *learnt) gap(s *schedule, j int, before []float64) []float64 {
	after := make([]float64, s.places)
	var total float64
	for i, v := range s.ends[j-1] {
		for d, p := range s.pause.chance {
			k := i + s.pause.least + d
			if k >= s.places {
				break
			}
			after[i] += p * before[k]
		}
		total += v * after[i]
	}
	for i, v := range s.ends[j-1] {
		if v*after[i] < 1e-4*total {
			continue
		}
		for d, p := range s.pause.chance {
			if k := i + s.pause.least + d; k < s.places {
				l.pause[k-i] += v * p * before[k] / total
			}
		}
	}
	scaled(after)
	return after
}

// way is one way to place the cuts, as begin and end places; visible are those
// that took something away.
type way struct {
	begin, end []int
	visible    []bool
}

// draw takes a way as likely as it is.
func (s *schedule) draw(rng *rand.Rand) way {
	n := len(s.slots)
	w := way{make([]int, n), make([]int, n), make([]bool, n)}
	end := pick(rng, s.places, func(i int) float64 { return s.ends[n-1][i] * s.pause.beside(s.places-1-i) })
	for j := n - 1; j >= 0; j-- {
		w.end[j] = end
		w.begin[j] = pick(rng, s.places, func(i int) float64 { return s.reaches(j, i, end) })
		w.visible[j] = s.visible(j, w.begin[j], end)
		if j > 0 {
			end = pick(rng, s.places, func(i int) float64 { return s.ends[j-1][i] * s.pause.of(w.begin[j]-i) })
		}
	}
	return w
}

func (s *schedule) reaches(j, i, end int) float64 {
	d, n := end-i-s.length.least, len(s.length.chance)
	if d < 0 || d >= n {
		return 0
	}
	return s.begins[j][i] * s.slots[j].pairs[i*n+d]
}

func (r rhythm) of(places int) float64 {
	if d := places - r.least; d >= 0 && d < len(r.chance) {
		return r.chance[d]
	}
	return 0
}

const clearlyVisible = 10.0 // times likelier that a cut took something than nothing

// visible says whether a cut there clearly took something.
func (s *schedule) visible(j, i, k int) bool {
	n, d := len(s.length.chance), k-i-s.length.least
	return s.slots[j].pairs[i*n+d] > clearlyVisible*s.slots[j].chance[0]*s.length.chance[d]
}

func pick(rng *rand.Rand, n int, weight func(int) float64) int {
	var sum float64
	for i := range n {
		sum += weight(i)
	}
	left := rng.Float64() * sum
	last := 0
	for i := range n {
		if v := weight(i); v > 0 {
			if left -= v; left < 0 {
				return i
			}
			last = i
		}
	}
	return last
}
