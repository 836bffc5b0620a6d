package order

import (
	"math"
	"slices"

	"halforder/engine"
	"halforder/signal"
)

// feelComb scores engine speeds by the lines in a spectrum of motion, the power
// of the axes added. The lines of an engine on its mounts differ a hundredfold,
// so levels are taken as logarithms, and each speed is tried with what a
// healthy engine shows, with one cylinder dead, and with a pair one turn apart.
type feelComb struct {
	plan   *signal.Spectrum
	hz     []float64 // cycle rates tried
	combs  [][]teethFelt
	prior  []float64
	scores []float64
	power  []float64
	sum    []float64
	level  []float64
	lowBin int
	topBin int
	reach  int // bins that level a spectrum
	near   int // bins in which a line is the highest
}

// teethFelt are the places of one pattern's lines at one speed.
type teethFelt struct {
	bins    []int32
	parts   []float64
	weights []float64
	cost    float64
}

const (
	feelWindow  = 1.0  // s
	levelReach  = 20.0 // Hz to each side that levels a spectrum
	feelHop     = 0.25 // s
	lineReach   = 1.5  // Hz to each side within which a line is the highest
	faintLine   = 0.1  // share of full strength from which a natural line is looked for
	lowestShake = 3.0  // Hz: below, hands and bodies move
	combFirings = 4    // firing orders in the comb
	deadCost    = 0.7  // of a pattern with something dead, in spreads of the spectrum
	pairCost    = 1.2
	feelIdle    = 600  // rpm, slower is unlikely
	feelFast    = 1100 // and faster a little
)

func newFeelComb(config Config, rate float64, window int) *feelComb {
	c := &feelComb{plan: signal.NewSpectrum(window, 2)}
	binHz := c.plan.BinHz(rate)
	c.lowBin, c.topBin = int(lowestShake/binHz), min(int(reachShare*rate/binHz), c.plan.Bins()-2)
	c.reach, c.near = int(levelReach/binHz), int(lineReach/binHz)
	c.power, c.sum, c.level = make([]float64, c.plan.Bins()), make([]float64, c.plan.Bins()), make([]float64, c.plan.Bins())
	for hz := slowest.CycleHz(); hz <= fastest.CycleHz(); hz *= 1 + gridStep {
		c.hz = append(c.hz, hz)
		c.combs = append(c.combs, c.teeth(config.Layout, hz/binHz))
		c.prior = append(c.prior, feelPrior(engine.FromCycleHz(hz), config.Speed))
	}
	c.scores = make([]float64, len(c.hz))
	return c
}

// teeth of the three patterns; step is the cycle rate in bins.
func (c *feelComb) teeth(layout engine.Layout, step float64) []teethFelt {
	n := layout.N()
	return []teethFelt{
		c.place(step, combFirings*n, 0, func(h int) float64 {
			natural := absPhasor(layout, h) / float64(n)
			if natural < faintLine {
				return 0
			}
			return natural * math.Sqrt(float64(n)/float64(h))
		}),
		c.place(step, feelFirings*n, deadCost, func(h int) float64 { return 1 }),
		c.place(step, feelFirings*n, pairCost, func(h int) float64 { return float64(1 - h%2) }),
	}
}

func (c *feelComb) place(step float64, top int, cost float64, weight func(h int) float64) teethFelt {
	t := teethFelt{cost: cost}
	var squares float64
	for h := 1; h <= top; h++ {
		at := float64(h) * step
		w := weight(h)
		if w == 0 || at < float64(c.lowBin) || at >= float64(c.topBin) {
			continue
		}
		t.bins = append(t.bins, int32(at))
		t.parts = append(t.parts, at-math.Floor(at))
		t.weights = append(t.weights, w)
		squares += w * w
	}
	for i := range t.weights {
		t.weights[i] /= math.Sqrt(squares)
	}
	return t
}

// feelPrior is speedPrior for an engine with something lying on it: it idles, or
// is held a little above.
func feelPrior(n, hint engine.RPM) float64 {
	if hint > 0 {
		return speedPrior(n, hint)
	}
	below := min(0, math.Log(float64(n)/feelIdle)) / 0.1
	above := max(0, math.Log(float64(n)/feelFast)) / 0.7
	return -(below*below + above*above) / 2
}

// score one window of the axes.
func (c *feelComb) score(rows [][]float32) []float64 {
	clear(c.sum)
	for _, row := range rows {
		c.plan.Power(c.power, row)
		for i, v := range c.power {
			c.sum[i] += v
		}
	}
	c.levels()
	for k, patterns := range c.combs {
		best := math.Inf(-1)
		for _, t := range patterns {
			if len(t.bins) > 0 {
				best = max(best, t.match(c.level)-t.cost)
			}
		}
		c.scores[k] = max(best, -20) + c.prior[k]
	}
	return c.scores
}

// levels makes the logarithm of the power, above its surroundings, in spreads,
// less what is missing to the highest nearby: the flank of a line is none.
func (c *feelComb) levels() {
	for i, v := range c.sum {
		c.sum[i] = math.Log(v + 1e-30)
	}
	var squares float64
	for i := c.lowBin; i <= c.topBin+1; i++ {
		from, to := max(i-c.reach, c.lowBin), min(i+c.reach, c.topBin)
		c.level[i] = c.sum[i] - mean(c.sum[from:to+1])
		squares += c.level[i] * c.level[i]
	}
	spread := math.Sqrt(squares/float64(c.topBin+2-c.lowBin)) + 1e-9
	for i := c.lowBin; i <= c.topBin+1; i++ {
		top := slices.Max(c.sum[max(i-c.near, c.lowBin):min(i+c.near+1, len(c.sum))])
		c.level[i] = (c.level[i] - (top - c.sum[i])) / spread
	}
}

func (t teethFelt) match(level []float64) float64 {
	var sum float64
	for i, b := range t.bins {
		low := level[b]
		sum += t.weights[i] * (low + t.parts[i]*(level[b+1]-low))
	}
	return sum
}
