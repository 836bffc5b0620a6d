package order

import (
	"math"
)

// evidence is what one band says of the firings: their strengths, mean 1, and
// the standard error of each.
type evidence struct {
	view
	strength []float64
	spread   []float64
	cut      cut
	pulse    float64   // place of the first slot's pulse, in slots from the cycle start
	turn     int       // slots by which it was renumbered
	rest     prior     // what stays of a dead cylinder, where a cut shows it
	behind   []float64 // and of one that comes after another dead one
	path     prior     // how unequal the ways are, where a cut shows what stays

	logs []float64 // of the strengths, bounded below; this and laws by ready
	laws []gauss
}

// prior is a set of values with weights that sum to 1.
type prior []struct{ value, weight float64 }

// How loud the cylinders of a healthy engine may differ, as the spread of the
// logarithm. Below some 500 Hz the engine is small against the wave and natural
// spread is 3 to 5 % (design); a phone lying next to one cylinder, or a click,
// can still spoil it. Above, each cylinder has its own path to the microphone.
// Judgement (prior), wide on purpose.
var (
	lowPath  = prior{{0.05, 0.30}, {0.12, 0.35}, {0.30, 0.20}, {0.80, 0.15}}
	highPath = prior{{0.10, 0.15}, {0.22, 0.35}, {0.45, 0.35}, {0.90, 0.15}}
)

// What stays audible of a dead cylinder, as a share of a working one: its
// pumping, valves, and injector. In the upper bands it may be everything. In
// the bass it may be as loud but of another shape, which pulseRest leaves to
// the neighbour ratio. Judgement (prior).
var (
	pulseRest = prior{{0.05, 0.19}, {0.25, 0.27}, {0.45, 0.27}, {0.65, 0.17}, {0.85, 0.06}, {1, 0.04}}
	lowRest   = prior{{0.05, 0.17}, {0.25, 0.24}, {0.45, 0.24}, {0.65, 0.15}, {0.85, 0.08}, {1, 0.12}}
	highRest  = prior{{0.05, 0.23}, {0.25, 0.22}, {0.45, 0.20}, {0.65, 0.17}, {0.85, 0.10}, {1, 0.08}}
)

// A click, or a phone that lies next to one cylinder, makes one slot louder,
// never quieter. Judgement (prior).
const (
	loudChance = 0.3
	loudSpread = 1.0
)

func loudest(x []float64) int {
	top := 0
	for k, v := range x {
		if v > x[top] {
			top = k
		}
	}
	return top
}

const (
	quietFloor = 0.05 // strengths below cannot be told from nothing
	stray      = 0.02 // chance that a band is spoilt and says nothing
	strayWidth = 1.0  // spread of the log-strengths of a spoilt band
)

// rests is the prior of what stays audible of a dead cylinder in this view.
func (e *evidence) rests() prior {
	switch {
	case e.rest != nil:
		return e.rest
	case e.low:
		return lowRest
	}
	return highRest
}

// logLikelihoods of the view's strengths when firing k works with share
// work[k], one for each value of rests.
func (e *evidence) logLikelihoods(work []float64) []float64 {
	rests := e.rests()
	scratch := make([]float64, len(work)+len(e.laws)+len(rests))
	x, terms, out := scratch[:len(work)], scratch[len(work):][:len(e.laws)], scratch[len(work)+len(e.laws):]
	spoilt := e.laws[0].log(e.logs)
	for i, r := range rests {
		e.residuals(x, work, r.value, e.restBehind(i))
		terms[0] = spoilt
		for k := range e.laws[1:] {
			terms[k+1] = e.laws[k+1].log(x)
		}
		out[i] = logSum(terms)
	}
	return out
}

// restBehind is what stays of a dead cylinder that comes after another dead one,
// where the first leaves the rest i.
func (e *evidence) restBehind(i int) float64 {
	if e.behind == nil {
		return e.rests()[i].value
	}
	return e.behind[i]
}

// residuals stores what the path must explain of the logarithms.
func (e *evidence) residuals(x, work []float64, rest, behind float64) {
	before, last, lastLog := work[len(work)-1], 1.0, 0.0
	tail := rest*rest - behind*behind // of a slot's power
	for k, w := range work {
		x[k] = e.logs[k]
		switch {
		case w == 1 && before == 0 && tail > 0:
			x[k] -= math.Log1p(-min(tail, mostTail)) / 2
		case w == 1:
		case w == 0 && before == 0:
			x[k] -= math.Log(max(behind, quietFloor))
		default:
			if w != last {
				last, lastLog = w, math.Log(max(rest+(1-rest)*w, quietFloor))
			}
			x[k] -= lastLog
		}
		before = w
	}
}

// mostTail is how much of the power of a slot is the tail of the firing before, at
// most. Judgement.
const mostTail = 0.75

// ready fills what the likelihoods of all patterns share: the logarithms of the
// strengths and the laws of what the path does to them, the first that of a
// spoilt band.
func (e evidence) ready() evidence {
	path := highPath
	switch {
	case e.low:
		path = lowPath
	case e.path != nil:
		path = e.path
	}
	e.logs = make([]float64, len(e.strength))
	for k, s := range e.strength {
		e.logs[k] = math.Log(max(s, quietFloor))
	}
	e.laws = append([]gauss(nil), newGauss(stray, e.variances(strayWidth)))
	top, loud := loudest(e.strength), loudChance/float64(len(e.strength))
	for _, s := range path {
		v := e.variances(s.value)
		w := s.weight * (1 - stray)
		e.laws = append(e.laws, newGauss(w*(1-loudChance), v))
		v[top] += loudSpread * loudSpread
		e.laws = append(e.laws, newGauss(w*loud, v))
	}
	return e
}

// variances of the logarithms through paths of a spread.
func (e *evidence) variances(path float64) []float64 {
	v := make([]float64, len(e.strength))
	for k, s := range e.strength {
		err := e.spread[k] / max(s, quietFloor+e.spread[k])
		v[k] = path*path + err*err
	}
	return v
}

// gauss is the law of values with an unknown common mean, weighted.
type gauss struct {
	inverse []float64 // of the variances
	weight  float64   // their sum
	scale   float64   // logarithm of what does not depend on the values
}

func newGauss(weight float64, variances []float64) gauss {
	g := gauss{inverse: make([]float64, len(variances)), scale: math.Log(weight)}
	for k, v := range variances {
		g.inverse[k] = 1 / v
		g.weight += 1 / v
		g.scale -= math.Log(v) / 2
	}
	g.scale -= math.Log(g.weight) / 2
	return g
}

// log is the log-density of x.
func (g *gauss) log(x []float64) float64 {
	var sum, squares float64
	x = x[:len(g.inverse)]
	for k, w := range g.inverse {
		part := w * x[k]
		sum += part
		squares += part * x[k]
	}
	return g.scale - (squares-sum*sum/g.weight)/2
}

// logSum is the logarithm of the sum of exp(x).
func logSum(x []float64) float64 {
	top := math.Inf(-1)
	for _, v := range x {
		top = max(top, v)
	}
	if math.IsInf(top, -1) {
		return top
	}
	var sum float64
	for _, v := range x {
		if v > top-40 { // less cannot be seen in the sum
			sum += math.Exp(v - top)
		}
	}
	return top + math.Log(sum)
}

func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}
