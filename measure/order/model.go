package order

import (
	"math"
)

// evidence is what one band says of the firings: their strengths, mean 1, and
// the standard error of each.
type evidence struct {
	low      bool // the low band: far field, hears combustion
	strength []float64
	spread   []float64
	log      []float64 // of the strengths, bounded below
	starts   []int     // of the slots, in points of perSlot a slot
	pulse    float64   // place of the first slot's pulse, in slots from the cycle start
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
func (e evidence) rests() prior {
	if e.low {
		return lowRest
	}
	return highRest
}

// logLikelihoods of the view's strengths when firing k works with share
// work[k], one for each value of rests.
func (e evidence) logLikelihoods(work []float64) []float64 {
	path := highPath
	if e.low {
		path = lowPath
	}
	x := make([]float64, len(work))
	v := make([]float64, len(work))
	top := loudest(e.strength)
	loud := loudChance / float64(len(work))
	e.residuals(x, v, nil, strayWidth, 1)
	spoilt := math.Log(stray) + gauss(x, v)
	var out []float64
	for _, r := range e.rests() {
		sum := spoilt
		for _, s := range path {
			e.residuals(x, v, work, s.value, r.value)
			w := s.weight * (1 - stray)
			sum = logAdd(sum, math.Log(w*(1-loudChance))+gauss(x, v))
			v[top] += loudSpread * loudSpread
			sum = logAdd(sum, math.Log(w*loud)+gauss(x, v))
		}
		out = append(out, sum)
	}
	return out
}

// residuals stores what the path must explain and its variance.
func (e evidence) residuals(x, v, work []float64, path, rest float64) {
	last, lastLog := 1.0, 0.0
	for k, s := range e.strength {
		x[k] = e.log[k]
		if work != nil && work[k] != 1 {
			if work[k] != last {
				last, lastLog = work[k], math.Log(max(rest+(1-rest)*work[k], quietFloor))
			}
			x[k] -= lastLog
		}
		err := e.spread[k] / max(s, quietFloor+e.spread[k])
		v[k] = path*path + err*err
	}
}

// gauss is the log-density of x with an unknown common mean and variances v.
func gauss(x, v []float64) float64 {
	var weight, mean, log float64
	product := 1.0
	for k := range x {
		weight += 1 / v[k]
		mean += x[k] / v[k]
		product *= v[k]
	}
	mean /= weight
	log -= math.Log(product*weight) / 2
	for k := range x {
		d := x[k] - mean
		log -= d * d / v[k] / 2
	}
	return log
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

// logs fills the logarithms of the strengths.
func (e evidence) logs() evidence {
	e.log = make([]float64, len(e.strength))
	for k, s := range e.strength {
		e.log[k] = math.Log(max(s, quietFloor))
	}
	return e
}
