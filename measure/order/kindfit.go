package order

import "math"

const (
	kindShrink = 4.0  // cycles by which the mean of a kind is drawn to that of all
	kindTails  = 12   // degrees of freedom: a clank must not make a kind
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

	sums    [][]float64 // of the features by firing: the same whatever the kinds
	squares []float64   // by feature
	work    *kindWork
}

// kindWork is what a round needs and the next one may overwrite.
type kindWork struct {
	heard, forward [][2]float64 // by cycle and kind
	scale          []float64
}

func newKindFit(x [][]float64, n, k int, start []float64, work *kindWork) *kindFit {
	d := len(x[0])
	f := &kindFit{x: x, n: n, k: k, chance: start, stay: transitions{{0.5, 0.5}, {0.5, 0.5}}, work: work}
	f.sums, f.squares, f.spread = matrix(n, d), make([]float64, d), make([]float64, d)
	f.mean = [2][][]float64{matrix(n, d), matrix(n, d)}
	stretched := newLogProduct()
	for c := range start {
		for s := range n {
			var distance float64
			sums := f.sums[s]
			for i, v := range f.at(c, s) {
				sums[i] += v
				f.squares[i] += v * v
				distance += v * v
			}
			stretched.take(1 + distance/kindTails)
		}
	}
	f.one = -float64(f.halfTails()) / 2 * stretched.log()
	return f
}

func (f *kindFit) at(cycle, s int) []float64 { return f.x[f.k+cycle*f.n+s] }

// halfTails is twice the power with which Student's density falls.
func (f *kindFit) halfTails() int { return kindTails + len(f.squares) }

func (f *kindFit) run(rounds int) {
	last := math.Inf(-1)
	price := float64(len(f.x[0])*f.n) / 2 * math.Log(float64(len(f.chance))) // Schwarz's criterion
	for range rounds {
		f.learn()
		total := f.relate()
		f.proof = total - f.one - price
		if total < last+kindSettle {
			return
		}
		last = total
	}
}

// swap calls the first kind the second.
func (f *kindFit) swap() {
	f.stay = transitions{{f.stay[1][1], f.stay[1][0]}, {f.stay[0][1], f.stay[0][0]}}
	f.mean[0], f.mean[1] = f.mean[1], f.mean[0]
	for c, q := range f.chance {
		f.chance[c] = 1 - q
	}
}

// effect is how the second kind differs from the first, by firing and feature.
func (f *kindFit) effect(rows [][]float64) [][]float64 {
	out := matrix(f.n, len(rows[0]))
	misses := mean(f.chance) * float64(len(f.chance))
	fires := float64(len(f.chance)) - misses
	for s := range f.n {
		for c, q := range f.chance {
			for i, v := range rows[f.k+c*f.n+s] {
				out[s][i] += (q/max(misses, 1e-9) - (1-q)/max(fires, 1e-9)) * v
			}
		}
	}
	return out
}

// learn finds the means of the kinds and what is left.
func (f *kindFit) learn() {
	cycles := float64(len(f.chance))
	misses := mean(f.chance) * cycles
	copy(f.spread, f.squares)
	for s := range f.n {
		a, b, sums := f.mean[0][s], f.mean[1][s], f.sums[s]
		clear(b)
		for c, q := range f.chance {
			for i, v := range f.at(c, s)[:len(b)] {
				b[i] += q * v
			}
		}
		for i, sum := range sums {
			first, second, all := sum-b[i], b[i], kindShrink*sum/cycles
			a[i] = (first + all) / (cycles - misses + kindShrink)
			b[i] = (second + all) / (misses + kindShrink)
			// Σ(v−a)² of the first and Σ(v−b)² of the second kind, multiplied out
			f.spread[i] += a[i]*(a[i]*(cycles-misses)-2*first) + b[i]*(b[i]*misses-2*second)
		}
	}
	for i := range f.spread {
		f.spread[i] = max(f.spread[i]/(float64(f.n)*cycles), kindLeast)
	}
}

// relate finds the chances of the kinds from how likely each makes the cycles,
// and the log-likelihood of all.
func (f *kindFit) relate() (total float64) {
	inverse, n := make([]float64, len(f.spread)), len(f.chance)
	for i, v := range f.spread {
		inverse[i] = 1 / v
		total -= float64(n*f.n) / 2 * math.Log(v)
	}
	heard := grown(f.work.heard, n)
	stretched := newLogProduct()
	for c := range heard {
		a, b := f.stretches(c, inverse)
		if a <= b {
			heard[c] = [2]float64{1, halfPower(a/b, f.halfTails())}
		} else {
			heard[c] = [2]float64{halfPower(b/a, f.halfTails()), 1}
		}
		stretched.take(min(a, b))
	}
	f.work.heard = heard
	var chain float64
	f.chance, f.stay, chain = f.stay.smooth(f.work)
	return total - float64(f.halfTails())/2*stretched.log() + chain
}

// halfPower is x to the power of so many halves.
func halfPower(x float64, halves int) float64 {
	out := 1.0
	if halves%2 == 1 {
		out = math.Sqrt(x)
	}
	for n := halves / 2; n > 0; n /= 2 {
		if n%2 == 1 {
			out *= x
		}
		x *= x
	}
	return out
}

// logProduct is the logarithm of a product of many positive factors, most of
// which share one: sum + ln(product).
type logProduct struct{ sum, product float64 }

func newLogProduct() logProduct { return logProduct{product: 1} }

func (p *logProduct) take(factor float64) {
	p.product *= factor
	if !(p.product > 1e-8 && p.product < 1e8) { // room for the smallest factor and the largest
		p.sum, p.product = p.log(), 1
	}
}

func (p *logProduct) log() float64 { return p.sum + math.Log(p.product) }

// stretches of a cycle are the products over its firings of 1 + distance²/degrees
// of freedom, to both kinds.
func (f *kindFit) stretches(cycle int, inverse []float64) (a, b float64) {
	a, b = 1, 1
	for s := range f.n {
		x := f.at(cycle, s)
		first, second := f.mean[0][s][:len(x)], f.mean[1][s][:len(x)]
		var near, far float64
		for i, w := range inverse[:len(x)] {
			p, q := x[i]-first[i], x[i]-second[i]
			near += p * p * w
			far += q * q * w
		}
		a, b = a*(1+near/kindTails), b*(1+far/kindTails)
	}
	return a, b
}

// grown is x with n values, whatever they are.
func grown[T any](x []T, n int) []T {
	if cap(x) < n {
		return make([]T, n)
	}
	return x[:n]
}

// distance is that of the two kinds along the line between them, in spreads.
func (f *kindFit) distance() float64 {
	y := make([]float64, len(f.chance))
	var sum, weight [2]float64
	for c, q := range f.chance {
		var along float64
		for s := range f.n {
			first, second := f.mean[0][s], f.mean[1][s]
			for i, v := range f.at(c, s) {
				along += v * (second[i] - first[i])
			}
		}
		y[c] = along
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

// smooth gives the chance of the second kind in each cycle from how likely each
// kind makes what is heard in it, forward and backward, with what it makes of the
// transitions and the log-likelihood of all.
func (t transitions) smooth(w *kindWork) (chance []float64, next transitions, total float64) {
	n := len(w.heard)
	w.forward, w.scale = grown(w.forward, n), grown(w.scale, n)
	heard, forward, scale := w.heard, w.forward, w.scale
	before := [2]float64{t[1][0] / (t[1][0] + t[0][1]), t[0][1] / (t[1][0] + t[0][1])}
	likely := newLogProduct()
	for c, l := range heard {
		a, b := before[0]*l[0], before[1]*l[1]
		sum := max(a+b, 1e-300)
		likely.take(sum)
		scale[c] = 1 / sum
		a, b = a*scale[c], b*scale[c]
		forward[c] = [2]float64{a, b}
		before = [2]float64{a*t[0][0] + b*t[1][0], a*t[0][1] + b*t[1][1]}
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
				v := t[i][j] * heard[c][j] * backward[j] * scale[c]
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
	return chance, next, likely.log()
}
