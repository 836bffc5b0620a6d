package belief

import (
	"math"
)

// hypotheses are all sets of faults considered, in a fixed order: none, the
// single faults, then for each first fault its second ones, then triples.
// Two severities of one cause at one site exclude each other. What the list
// lacks, and no misfire at all, stand alone.
type hypotheses struct {
	singles []int     // index into model.faults of each single fault that can stand alone
	second  [][]int32 // by fault: the later faults it can come with
	start   []int     // by fault: where its pairs begin
	triples []triple
	logW    []float64 // prior, then posterior, log weight
}

type triple [3]int32

// none is the place of "not a misfire".
const none = 0

func (m *model) enumerate() *hypotheses {
	h := &hypotheses{logW: []float64{math.Log(m.none.p)}}
	for i := range m.faults {
		h.singles = append(h.singles, i)
		p := m.faults[i].p
		if m.faults[i].fresh {
			p = 0 // what came in later cannot be why the car came
		}
		h.logW = append(h.logW, math.Log(p))
	}
	if m.car.MaxFaults >= 2 {
		m.addPairs(h)
	}
	if m.car.MaxFaults >= 3 {
		m.addTriples(h)
	}
	return h
}

func (m *model) addPairs(h *hypotheses) {
	lifts, first := m.lifts(), len(h.logW)
	h.second, h.start = make([][]int32, len(m.faults)), make([]int, len(m.faults))
	sum := 0.0
	var weights []float64
	for i := range m.faults {
		h.start[i] = first + len(weights)
		for j := i + 1; j < len(m.faults); j++ {
			if !m.together(i, j) {
				continue
			}
			a, b := &m.faults[i], &m.faults[j]
			w := a.p * b.p * lifts.of(a, b)
			h.second[i] = append(h.second[i], int32(j))
			weights = append(weights, w)
			if !a.fresh && !b.fresh {
				sum += w
			}
		}
	}
	h.logW = append(h.logW, m.pairPriors(h, weights, sum)...)
}

// pairPriors scales pairs of old faults to their share. A pair with a new part
// keeps the chance of the old fault times that of the new part being bad.
func (m *model) pairPriors(h *hypotheses, weights []float64, sum float64) []float64 {
	out := make([]float64, len(weights))
	k := 0
	for i, seconds := range h.second {
		for _, j := range seconds {
			w := weights[k]
			if !m.faults[i].fresh && !m.faults[j].fresh {
				w *= m.pairMass / sum
			}
			out[k] = math.Log(w)
			k++
		}
	}
	return out
}

// together reports whether two faults can be there at once.
func (m *model) together(i, j int) bool {
	a, b := &m.faults[i], &m.faults[j]
	switch {
	case a.site == b.site && a.cause == b.cause:
		return false
	case a.cause.Unlisted() || b.cause.Unlisted():
		return false
	case a.fresh && b.fresh:
		return false
	}
	return true
}

// addTriples adds three faults at once: as much rarer than pairs as pairs are
// than single faults.
func (m *model) addTriples(h *hypotheses) {
	lifts, sum := m.lifts(), 0.0
	var weights []float64
	for i, seconds := range h.second {
		for _, j := range seconds {
			for _, k := range h.second[j] {
				a, b, c := &m.faults[i], &m.faults[j], &m.faults[k]
				if !m.together(i, int(k)) || a.fresh || b.fresh || c.fresh {
					continue
				}
				w := a.p * b.p * c.p * lifts.of(a, b) * lifts.of(a, c) * lifts.of(b, c)
				h.triples = append(h.triples, triple{int32(i), j, k})
				weights = append(weights, w)
				sum += w
			}
		}
	}
	for _, w := range weights {
		h.logW = append(h.logW, math.Log(w*m.pairMass*m.pairMass/sum))
	}
}

// column is what one piece of evidence says of every hypothesis: the class of
// each fault and the log-likelihood of each pair of classes.
type column struct {
	class  []int32 // by fault
	n      int     // classes; class 0 says nothing
	none   float64
	single []float64 // by class
	pair   []float64 // n·n
	triple func(a, b, c int32) float64
}

func newColumn(m *model, s sighting, maxFaults int) *column {
	classes := m.classes(s)
	effects := classes.list
	col := &column{class: classes.of, n: len(effects)}
	col.none = s.logLik([]effect{s.effectOf(noFault)})
	for _, e := range effects {
		col.single = append(col.single, s.logLik([]effect{e}))
	}
	if maxFaults >= 2 {
		col.fillPairs(s, effects)
	}
	if maxFaults >= 3 {
		col.triple = memoTriples(s, effects)
	}
	return col
}

// classes numbers the different effects of the faults on one sighting.
type classes struct {
	of   []int32 // by fault
	list []effect
}

// scanned is how many classes are looked through before a map is asked: most
// faults touch nothing the sighting sees and fall into the first few.
const scanned = 8

func (m *model) classes(s sighting) *classes {
	c := &classes{of: make([]int32, len(m.faults))}
	index := map[effect]int32{}
	for i := range m.faults {
		c.of[i] = c.number(s.effectOf(i), index)
	}
	return c
}

func (c *classes) number(e effect, index map[effect]int32) int32 {
	if k := c.early(&e); k >= 0 {
		return k
	}
	k, ok := index[e]
	if !ok {
		k = int32(len(c.list))
		index[e] = k
		c.list = append(c.list, e)
	}
	return k
}

func (c *classes) early(e *effect) int32 {
	for k := range c.list[:min(scanned, len(c.list))] {
		if c.list[k] == *e {
			return int32(k)
		}
	}
	return -1
}

func (c *column) fillPairs(s sighting, effects []effect) {
	c.pair = make([]float64, c.n*c.n)
	both := make([]effect, 2)
	for i := range effects {
		both[0] = effects[i]
		for j := i; j < c.n; j++ {
			both[1] = effects[j]
			v := s.logLik(both)
			c.pair[i*c.n+j], c.pair[j*c.n+i] = v, v
		}
	}
}

func memoTriples(s sighting, effects []effect) func(a, b, c int32) float64 {
	memo := map[triple]float64{}
	return func(a, b, c int32) float64 {
		key := sorted3(a, b, c)
		v, ok := memo[key]
		if !ok {
			v = s.logLik([]effect{effects[key[0]], effects[key[1]], effects[key[2]]})
			memo[key] = v
		}
		return v
	}
}

func sorted3(a, b, c int32) triple {
	if a > b {
		a, b = b, a
	}
	if b > c {
		b, c = c, b
	}
	if a > b {
		a, b = b, a
	}
	return triple{a, b, c}
}

// add adds the column to the log weights of all hypotheses.
func (c *column) add(h *hypotheses, logW []float64) {
	logW[none] += c.none
	for k, i := range h.singles {
		logW[1+k] += c.single[c.class[i]]
	}
	for i, seconds := range h.second {
		row := c.pair[int(c.class[i])*c.n:][:c.n]
		out := logW[h.start[i]:][:len(seconds)]
		for k, j := range seconds {
			out[k] += row[c.class[j]]
		}
	}
	base := len(logW) - len(h.triples)
	for k, t := range h.triples {
		logW[base+k] += c.triple(c.class[t[0]], c.class[t[1]], c.class[t[2]])
	}
}

// scaled is the column with its logs times a factor. What cannot be stays so
// under a positive one, and is left alone under a negative one.
func (c *column) scaled(by float64) *column {
	times := func(v float64) float64 {
		if math.IsInf(v, -1) && by < 0 {
			return 0
		}
		return v * by
	}
	all := func(logs []float64) []float64 {
		out := make([]float64, len(logs))
		for i, v := range logs {
			out[i] = times(v)
		}
		return out
	}
	out := &column{class: c.class, n: c.n, none: times(c.none), single: all(c.single), pair: all(c.pair)}
	if c.triple != nil {
		out.triple = func(i, j, k int32) float64 { return times(c.triple(i, j, k)) }
	}
	return out
}

// leastWeight is the sum below which weights may have been lost to rounding and
// the logs must decide.
const leastWeight = 1e-100

// weigh is the posterior after the column, from the one before, without a log
// for each hypothesis; nil where that is not safe.
func (c *column) weigh(h *hypotheses, post []float64) []float64 {
	if post == nil || len(h.triples) > 0 {
		return nil
	}
	out := make([]float64, len(post))
	out[none] = post[none] * math.Exp(c.none)
	single, pair := exps(c.single), c.pairExps()
	sum := out[none]
	for k, i := range h.singles {
		out[1+k] = post[1+k] * single[c.class[i]]
		sum += out[1+k]
	}
	for i, seconds := range h.second {
		row := pair[int(c.class[i])*c.n:][:c.n]
		from, to := post[h.start[i]:][:len(seconds)], out[h.start[i]:][:len(seconds)]
		for k, j := range seconds {
			to[k] = from[k] * row[c.class[j]]
			sum += to[k]
		}
	}
	if !(sum > leastWeight) || math.IsInf(sum, 1) {
		return nil
	}
	scale := 1 / sum
	for i := range out {
		out[i] *= scale
	}
	return out
}

// pairExps are the likelihoods of the pairs of classes, which are symmetric.
func (c *column) pairExps() []float64 {
	if c.pair == nil {
		return nil
	}
	out := make([]float64, len(c.pair))
	for i := range c.n {
		for j := i; j < c.n; j++ {
			v := math.Exp(c.pair[i*c.n+j])
			out[i*c.n+j], out[j*c.n+i] = v, v
		}
	}
	return out
}

func exps(logs []float64) []float64 {
	out := make([]float64, len(logs))
	for i, v := range logs {
		out[i] = math.Exp(v)
	}
	return out
}
