package order

import "math"

const (
	kindShrink = 4.0  // cycles by which the mean of a kind is drawn to that of all
	kindTails  = 12.0 // degrees of freedom: a clank must not make a kind
	kindLeast  = 0.05 // variance left of a feature
	kindSettle = 0.3  // ln by which a round must gain
)

// transitions are the chances of going from each kind of cycle to each.
type transitions [2][2]float64

// kindFit fits two kinds of cycles: each firing's features are those of its
// place in the cycle and of the cycle's kind, and noise (Student's t). The kinds
// follow each other as a chain of two states; expectation and maximization.
type kindFit struct {
	x      [][]float64 // by firing, whitened, mean 0 by place
	n      int         // firings of a cycle
	k      int         // a cycle begins with this one
	chance []float64   // of the second kind, by cycle
	stay   transitions
	mean   [2][][]float64 // by kind and firing
	spread []float64      // variance by feature
	one    float64        // ln if all are of one kind
	proof  float64
}

func newKindFit(x [][]float64, n, k int, start []float64) *kindFit {
	f := &kindFit{x: x, n: n, k: k, chance: start, stay: transitions{{0.5, 0.5}, {0.5, 0.5}}}
	nought, whole := make([]float64, len(x[0])), make([]float64, len(x[0]))
	for i := range whole {
		whole[i] = 1
	}
	for c := range start {
		for s := range n {
			f.one += tailed(f.at(c, s), nought, whole)
		}
	}
	return f
}

func (f *kindFit) at(cycle, s int) []float64 { return f.x[f.k+cycle*f.n+s] }

// tailed is Student's log-density up to a constant.
func tailed(x, mean, inverse []float64) float64 {
	var distance float64
	for i, v := range x {
		d := v - mean[i]
		distance += d * d * inverse[i]
	}
	return -(kindTails + float64(len(x))) / 2 * math.Log1p(distance/kindTails)
}

func (f *kindFit) run(rounds int) {
	last := math.Inf(-1)
	price := float64(len(f.x[0])*f.n) / 2 * math.Log(float64(len(f.chance))) // Schwarz's criterion
	for range rounds {
		f.learn()
		var total float64
		f.chance, f.stay, total = f.stay.smooth(f.logs())
		f.proof = total - f.one - price
		if total < last+kindSettle {
			return
		}
		last = total
	}
}

// learn finds the means of the kinds and what is left.
func (f *kindFit) learn() {
	d, cycles := len(f.x[0]), len(f.chance)
	f.mean = [2][][]float64{make([][]float64, f.n), make([][]float64, f.n)}
	f.spread = make([]float64, d)
	for s := range f.n {
		a, b := make([]float64, d), make([]float64, d)
		var misses float64
		for c, q := range f.chance {
			misses += q
			for i, v := range f.at(c, s) {
				a[i] += (1 - q) * v
				b[i] += q * v
			}
		}
		for i := range a {
			all := kindShrink * (a[i] + b[i]) / float64(cycles)
			a[i] = (a[i] + all) / (float64(cycles) - misses + kindShrink)
			b[i] = (b[i] + all) / (misses + kindShrink)
		}
		for c, q := range f.chance {
			for i, v := range f.at(c, s) {
				f.spread[i] += (1-q)*(v-a[i])*(v-a[i]) + q*(v-b[i])*(v-b[i])
			}
		}
		f.mean[0][s], f.mean[1][s] = a, b
	}
	for i := range f.spread {
		f.spread[i] = max(f.spread[i]/float64(f.n*cycles), kindLeast)
	}
}

// logs are the log-likelihoods of the kinds, by cycle.
func (f *kindFit) logs() [][2]float64 {
	inverse, scale := make([]float64, len(f.spread)), 0.0
	for i, v := range f.spread {
		inverse[i] = 1 / v
		scale -= float64(f.n) / 2 * math.Log(v)
	}
	out := make([][2]float64, len(f.chance))
	for c := range out {
		out[c] = [2]float64{scale, scale}
		for s := range f.n {
			x := f.at(c, s)
			out[c][0] += tailed(x, f.mean[0][s], inverse)
			out[c][1] += tailed(x, f.mean[1][s], inverse)
		}
	}
	return out
}

// distance is that of the two kinds along the line between them, in spreads.
func (f *kindFit) distance() float64 {
	y := make([]float64, len(f.chance))
	var sum, weight [2]float64
	for c, q := range f.chance {
		for s := range f.n {
			for i, v := range f.at(c, s) {
				y[c] += v * (f.mean[1][s][i] - f.mean[0][s][i])
			}
		}
		sum[0], sum[1] = sum[0]+(1-q)*y[c], sum[1]+q*y[c]
		weight[0], weight[1] = weight[0]+1-q, weight[1]+q
	}
	if min(weight[0], weight[1]) < 1 {
		return 0
	}
	a, b := sum[0]/weight[0], sum[1]/weight[1]
	var square float64
	for c, q := range f.chance {
		square += (1-q)*(y[c]-a)*(y[c]-a) + q*(y[c]-b)*(y[c]-b)
	}
	return math.Abs(b-a) / math.Sqrt(max(square/float64(len(y)), 1e-12))
}

// smooth gives the chance of the second kind in each cycle from the
// log-likelihoods, forward and backward, with what it makes of the transitions
// and the log-likelihood of all.
func (t transitions) smooth(logs [][2]float64) (chance []float64, next transitions, total float64) {
	n := len(logs)
	forward, heard, scale := make([][2]float64, n), make([][2]float64, n), make([]float64, n)
	before := [2]float64{t[1][0] / (t[1][0] + t[0][1]), t[0][1] / (t[1][0] + t[0][1])}
	for c, l := range logs {
		top := max(l[0], l[1])
		for kind := range 2 {
			heard[c][kind] = math.Exp(l[kind] - top)
			forward[c][kind] = before[kind] * heard[c][kind]
		}
		scale[c] = max(forward[c][0]+forward[c][1], 1e-300)
		forward[c][0], forward[c][1] = forward[c][0]/scale[c], forward[c][1]/scale[c]
		total += top + math.Log(scale[c])
		for kind := range 2 {
			before[kind] = forward[c][0]*t[0][kind] + forward[c][1]*t[1][kind]
		}
	}
	chance = make([]float64, n)
	backward, moves := [2]float64{1, 1}, transitions{{1, 1}, {1, 1}}
	for c := n - 1; c >= 0; c-- {
		a, b := forward[c][0]*backward[0], forward[c][1]*backward[1]
		chance[c] = b / max(a+b, 1e-300)
		if c == 0 {
			break
		}
		var earlier [2]float64
		for i := range 2 {
			for j := range 2 {
				v := t[i][j] * heard[c][j] * backward[j] / scale[c]
				earlier[i] += v
				moves[i][j] += forward[c-1][i] * v
			}
		}
		backward = earlier
	}
	for i := range 2 {
		sum := moves[i][0] + moves[i][1]
		next[i] = [2]float64{moves[i][0] / sum, moves[i][1] / sum}
	}
	return chance, next, total
}
