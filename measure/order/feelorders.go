package order

import (
	"math"

	"halforder/engine"
	"halforder/finding"
)

// shaken is what a stretch of motion shows at one harmonic of the cycle, over
// all axes: the axes' powers add, so neither the lie of the sensor matters nor
// that each order may shake it in a direction of its own.
type shaken struct {
	h       int
	hz      float64
	log     float64 // ln of the amplitude
	err     float64 // standard error of log
	steady  float64 // amplitude of the mean over the spread of single blocks
	natural bool
}

// shakenOrders lists the harmonics within reach.
func (f *folded) shakenOrders() []shaken {
	var out []shaken
	hz := meanRate(f.cycles)
	n := float64(f.layout.N())
	for h := 1; h <= f.harmonics; h++ {
		var power, noise float64
		for _, p := range f.bands {
			power += sq(p.mean[h-1])
			noise += p.noise[h-1]
		}
		if noise == 0 {
			break // out of reach
		}
		clear := max(power-noise, noiseFloor*noise)
		out = append(out, shaken{
			h: h, hz: float64(h) * hz,
			log:     math.Log(clear) / 2,
			err:     math.Sqrt(noise/clear/2 + noise*noise/clear/clear/4),
			steady:  math.Sqrt(clear / (noise * float64(len(f.cycles)))),
			natural: absPhasor(f.layout, h) >= naturalLine*n,
		})
	}
	return out
}

// clearest is the power of the clearest order over the variance of its mean,
// along the axis that shows it best: 1 for chance.
func (f *folded) clearest() float64 {
	var top float64
	for _, p := range f.bands {
		for h, m := range p.mean {
			if p.noise[h] > 0 {
				top = max(top, sq(m)/p.noise[h])
			}
		}
	}
	return top
}

// noiseFloor is the share of the noise below which an order cannot be told from
// nothing.
const noiseFloor = 0.25

func meanRate(cycles []cycle) float64 {
	var sum float64
	for _, c := range cycles {
		sum += c.hz
	}
	return sum / float64(len(cycles))
}

// How the mounts may carry the orders: the logarithm of the gain is a smooth
// unknown curve. The broad part is the fall of the torque's harmonics and of
// what the mass takes; below some 20 Hz the block has modes on its mounts that
// may lift or sink single orders. Judgement (prior), after usual mounts: modes
// of 5 to 18 Hz, damping 0.05 to 0.15 of critical.
const (
	broadSpread = 0.8 // of the logarithm
	broadReach  = 0.7 // in ln of frequency
	modeSpread  = 0.6
	modeTop     = 18.0 // Hz
	modeReach   = 3.0  // Hz over which a mode acts
	lineSpread  = 0.2  // of each line on its own
	levelSpread = 3.0  // of the level, whose unit is unknown
)

// unbalance is what turns with the crank, at order 1, against the firings of all
// cylinders: anything. So a strong order 1 accuses nobody, and a missing one
// clears. Judgement (prior).
var unbalance = prior{{0.03, 0.2}, {0.1, 0.2}, {0.3, 0.25}, {1, 0.25}, {3, 0.1}}

// The pistons shake order 2, and a firing order of two or four with it. Judgement
// (prior), as spread of the logarithm.
const (
	pistonSpread   = 1.2
	firingSpread   = 0.35
	wholeSpread    = 0.4
	rayleighSpread = 0.64 // of ln of a Rayleigh amplitude: derived, π/√24
)

// healthySpread is how unevenly the cylinders of a healthy engine work at idle,
// as a spread: 3 to 5 % (design), wide above. Judgement (prior).
var healthySpread = prior{{0.04, 0.6}, {0.08, 0.3}, {0.16, 0.1}}

// motionRest is what a dead cylinder still does for the shaking: it pushes no
// crank. Judgement (prior).
var motionRest = prior{{0.03, 0.5}, {0.15, 0.3}, {0.35, 0.2}}

// shakes weighs patterns of work by the orders of a motion.
type shakes struct {
	layout engine.Layout
	lines  []shaken
	gains  [][]float64 // covariance of the unknown logarithms of the gains
	steady float64     // mean of ln steady of the odd harmonics; NaN when unknown
	blocks float64     // cycles in a block
}

func newShakes(f *folded) *shakes {
	s := &shakes{layout: f.layout, steady: math.NaN(), blocks: cyclesIn(f.cycles) / float64(len(f.cycles))}
	var sum, count float64
	for _, l := range f.shakenOrders() {
		s.lines = append(s.lines, l)
		if l.h%2 == 1 && !l.natural && count < steadyLines {
			sum, count = sum+math.Log(l.steady), count+1
		}
	}
	if count > 0 {
		s.steady = sum / count
	}
	for _, a := range s.lines {
		row := make([]float64, len(s.lines))
		for k, b := range s.lines {
			row[k] = gainCovariance(a.hz, b.hz)
		}
		s.gains = append(s.gains, row)
	}
	return s
}

// cyclesIn counts the engine cycles of blocks.
func cyclesIn(blocks []cycle) float64 {
	var sum float64
	for _, b := range blocks {
		sum += b.seconds * b.hz
	}
	return sum
}

func gainCovariance(a, b float64) float64 {
	far, near := math.Log(a/b)/broadReach, (a-b)/modeReach
	return levelSpread*levelSpread + broadSpread*broadSpread*math.Exp(-far*far/2) + modeAt(a)*modeAt(b)*math.Exp(-near*near/2)
}

func modeAt(hz float64) float64 { return modeSpread / (1 + math.Pow(hz/modeTop, 6)) }

// of is the log-likelihood of the work by firing position.
func (s *shakes) of(work []float64) float64 {
	var terms []float64
	for _, rest := range motionRest {
		heard := make([]float64, len(work))
		idle := true
		for k, w := range work {
			heard[k] = rest.value + (1-rest.value)*w
			idle = idle && w == 1
		}
		size := make([]float64, len(s.lines))
		for i, l := range s.lines {
			size[i] = sq(s.layout.Phasor(l.h, heard))
		}
		if idle {
			terms = append(terms, s.ofSizes(size))
			break
		}
		terms = append(terms, math.Log(rest.weight)+s.ofSizes(size))
	}
	return logSum(terms)
}

// pattern is the log-likelihood of a pattern up to rotation.
func (s *shakes) pattern(p finding.Pattern) float64 { return s.any(workOf(p)) }

// any is the log-likelihood of work by firing position, whichever cylinder comes
// first. On an even engine no power depends on that.
func (s *shakes) any(work []float64) float64 {
	if s.layout.Even() {
		return s.of(work)
	}
	var each []float64
	for k := range work {
		each = append(each, s.of(append(work[k:len(work):len(work)], work[:k]...)))
	}
	return logMean(each)
}

// ofSizes is the log-likelihood when the pattern alone has phasors of these
// squares.
func (s *shakes) ofSizes(size []float64) float64 {
	var terms []float64
	n := float64(s.layout.N())
	for _, spread := range healthySpread {
		steady := s.steadyLog(size, spread.value)
		for _, u := range unbalance {
			turning := n * n * u.value * u.value
			terms = append(terms, math.Log(spread.weight*u.weight)+steady+s.lineLog(size, n*spread.value*spread.value, turning))
		}
	}
	return logSum(terms)
}

// lineLog is the log-density of the orders; chance is the mean square of what
// differences of the cylinders add to each, turning of what turns adds to order
// 1.
func (s *shakes) lineLog(size []float64, chance, turning float64) float64 {
	rest := make([]float64, len(s.lines))
	matrix := make([][]float64, len(s.lines))
	for i, l := range s.lines {
		add := chance
		if l.h == turnHarmonic && !l.natural {
			add += turning
		}
		share := add / (size[i] + add)
		rest[i] = l.log - math.Log(size[i]+add)/2
		matrix[i] = append([]float64(nil), s.gains[i]...)
		own := l.own()
		matrix[i][i] += own*own + l.err*l.err + share*rayleighSpread*rayleighSpread
	}
	return normalLog(matrix, rest)
}

// own is the spread of a line's logarithm from what is not combustion.
func (l shaken) own() float64 {
	extra := 0.0
	switch {
	case l.h%2 == 1:
	case l.natural:
		extra = firingSpread
	case l.h == 2*turnHarmonic:
		extra = pistonSpread
	default:
		extra = wholeSpread
	}
	return math.Hypot(lineSpread, extra)
}

// normalLog is the log-density of x under a normal law of mean 0; matrix is
// overwritten by its factor.
func normalLog(matrix [][]float64, x []float64) float64 {
	var sum float64
	for i := range matrix {
		for k := range i + 1 {
			v := matrix[i][k]
			for j := range k {
				v -= matrix[i][j] * matrix[k][j]
			}
			if k < i {
				matrix[i][k] = v / matrix[k][k]
			} else {
				matrix[i][i] = math.Sqrt(max(v, 1e-12))
			}
		}
		for k := range i {
			x[i] -= matrix[i][k] * x[k]
		}
		x[i] /= matrix[i][i]
		sum -= x[i]*x[i]/2 + math.Log(matrix[i][i])
	}
	return sum
}

// A dead cylinder is dead in every cycle; what healthy ones make of the odd
// half orders is little more than how their cycles vary, carried by the same
// mounts. So the mean against the spread of single blocks tells them apart
// whatever the gain is. Other noise only lessens it. Judgement (prior).
var (
	cyclic      = prior{{0.04, 0.25}, {0.08, 0.45}, {0.16, 0.30}} // spread of the work of one cycle at idle
	otherNoise  = prior{{1, 0.4}, {0.5, 0.3}, {0.25, 0.2}, {0.1, 0.1}}
	steadyError = 0.5 // of the logarithm
	steadyLines = 3.0 // lowest odd harmonics looked at
)

func (s *shakes) steadyLog(size []float64, spread float64) float64 {
	if math.IsNaN(s.steady) {
		return 0
	}
	n := float64(s.layout.N())
	var mean, count float64
	for i, l := range s.lines {
		if l.h%2 == 1 && !l.natural && count < steadyLines {
			mean, count = mean+math.Log(size[i]+n*spread*spread)/2, count+1
		}
	}
	var terms []float64
	for _, c := range cyclic {
		for _, o := range otherNoise {
			z := (s.steady - mean/count - math.Log(math.Sqrt(s.blocks/n)/c.value*o.value)) / steadyError
			terms = append(terms, math.Log(c.weight*o.weight)-z*z/2)
		}
	}
	return logSum(terms)
}

// Orders that no pattern explains: a wrong speed, a rattle, a hand on the sensor.
// Judgement (prior).
const (
	freeShare  = 0.05
	freeSpread = 2.0 // of the logarithm of each order
)

// free is the log-likelihood of orders that obey no pattern.
func (s *shakes) free() float64 {
	n := float64(s.layout.N())
	rest := make([]float64, len(s.lines))
	size := make([]float64, len(s.lines))
	matrix := make([][]float64, len(s.lines))
	for i, l := range s.lines {
		rest[i] = l.log - math.Log(n)/2
		size[i] = n
		matrix[i] = append([]float64(nil), s.gains[i]...)
		matrix[i][i] += freeSpread*freeSpread + l.err*l.err
	}
	return normalLog(matrix, rest) + s.steadyLog(size, 0)
}

// judgeShakes weighs the patterns by a stretch of motion. A share of recordings
// obeys no model: all patterns explain those alike.
func judgeShakes(f *folded) judgement {
	n := f.layout.N()
	j := judgement{n: n, log: map[finding.Pattern]float64{}}
	s := newShakes(f)
	var evidence []float64
	for _, p := range patternsOf(n) {
		if idles(p) {
			j.patterns = append(j.patterns, p)
			j.log[p] = s.pattern(p)
			evidence = append(evidence, j.log[p]+math.Log(patternPrior(p)))
		}
	}
	none := j.log[finding.AllWork(n)]
	usual := logMean([]float64{none, logSum(evidence[1:]) - math.Log(patternPriors(j.patterns[1:]))})
	odd := logAdd(math.Log(stray)+usual, math.Log(freeShare)+s.free())
	bound := func(v float64) float64 { return logAdd(math.Log(1-stray)+v, odd) }
	for p, v := range j.log {
		j.log[p] = bound(v) - bound(none)
	}
	j.odds = j.misfireOdds(j.log)
	j.estimateMissing(func(w float64) float64 {
		work := workOf(finding.AllWork(n))
		work[0] = w
		return bound(s.any(work)) - bound(none)
	})
	return j
}

func patternPriors(patterns []finding.Pattern) float64 {
	var sum float64
	for _, p := range patterns {
		sum += patternPrior(p)
	}
	return sum
}
