package order

import (
	"math"

	"halforder/engine"
	"halforder/signal"
)

const (
	windowSeconds   = 1.0
	shortestSeconds = 0.5
	hopSeconds      = 0.5
	gridStep        = 0.004 // ratio of neighbouring speeds on the grid, below half the 1 % asked for
	slowest         = engine.RPM(200)
	fastest         = engine.RPM(7500)
	whiteHz         = 40.0 // each spectrum is levelled over this reach to each side
	halfWeight      = 0.2  // weight of a line off the firing order, see comb
	betweenShare    = 1.0  // how strong the orders between may be against the firing orders
	turnWeight      = 0.5  // weight of order 1, where the unbalance of whatever turns shows
	alternationCost = 2.5  // see score
	maxFirings      = 8    // firing orders in the comb
	maxHalfOrders   = 3    // half orders up to this firing order
)

// comb scores how well lines at multiples of a cycle rate explain a spectrum:
// a matched filter over all half orders. Multiples of the firing order count
// fully. The others count a little, enough to hold on to an engine with dead
// cylinders and not enough to let a healthy engine pass for one of twice the
// speed with every other cylinder dead.
type comb struct {
	plan   *signal.Spectrum
	rate   float64
	hz     []float64 // cycle rates on the grid
	taps   [][]tap
	norm   []float64
	power  []float64
	level  []float64
	lines  []float64
	prior  []float64
	scores []float64
}

type tap struct {
	bin    int
	part   float32
	weight float32
	side   int8 // of the firing orders 0 odd and 1 even ones, 2 between them
}

func newComb(layout engine.Layout, rate float64, hint engine.RPM, window, pad int) *comb {
	c := &comb{plan: signal.NewSpectrum(window, pad), rate: rate}
	bins := c.plan.Bins()
	c.power, c.level = make([]float64, bins), make([]float64, bins)
	c.lines = make([]float64, bins)
	for hz := slowest.CycleHz(); hz <= fastest.CycleHz(); hz *= 1 + gridStep {
		c.hz = append(c.hz, hz)
		c.addTaps(layout, hz)
		c.prior = append(c.prior, speedPrior(engine.FromCycleHz(hz), hint))
	}
	c.scores = make([]float64, len(c.hz))
	return c
}

func (c *comb) addTaps(layout engine.Layout, hz float64) {
	n := layout.N()
	binHz := c.plan.BinHz(c.rate)
	top := 0.45 * c.rate
	var taps []tap
	var squares float64
	for h := 1; h <= maxFirings*n && float64(h)*hz < top; h++ {
		at := float64(h) * hz / binHz
		t := tap{bin: int(at), part: float32(at - math.Floor(at)), side: sideOf(layout, h)}
		w := lineWeight(layout, h)
		t.weight = float32(w)
		squares += w * w
		if w > 0 {
			taps = append(taps, t)
		}
	}
	c.taps = append(c.taps, taps)
	c.norm = append(c.norm, 1/math.Sqrt(max(squares, 1)))
}

// lineWeight is 1 for a line the healthy engine has. An uneven engine has its
// natural lines in proportion to its own phasors.
func lineWeight(layout engine.Layout, h int) float64 {
	natural := absPhasor(layout, h) / float64(layout.N())
	if h == turnHarmonic {
		return max(natural, turnWeight)
	}
	if h > maxHalfOrders*layout.N() && natural < halfWeight {
		return 0
	}
	return max(natural, halfWeight)
}

// sideOf sorts the lines for the test of plausibility.
func sideOf(layout engine.Layout, h int) int8 {
	n := layout.N()
	switch {
	case absPhasor(layout, h) < naturalLine*float64(n):
		return 2
	case layout.Even():
		return int8(1 - h/n%2)
	}
	return 0
}

// implausible is by how much lines contradict a speed: when every other firing
// order is weak, the engine turns at half of it; when the orders between are as
// strong as the firing orders, at a multiple.
func implausible(side, count [3]float64) float64 {
	for i := range side {
		side[i] /= max(count[i], 1)
	}
	firing := (side[0]*count[0] + side[1]*count[1]) / max(count[0]+count[1], 1)
	return max(0, min(count[1], 1)*(side[1]-side[0])) + max(0, side[2]-betweenShare*firing)
}

// speedPrior is a gentle log-prior: engines that run at all turn at 450 to
// 6500 rpm, mostly near idle; a typed speed is trusted to 15 %.
func speedPrior(n, hint engine.RPM) float64 {
	if hint > 0 {
		z := math.Log(float64(n/hint)) / 0.15
		return max(-z*z/2, -8)
	}
	below := min(0, math.Log(float64(n)/500)) / 0.1
	above := max(0, math.Log(float64(n)/1200)) / 1.5
	return -(below*below + above*above) / 2
}

// score fills c.scores from one window of all bands.
func (c *comb) score(rows [][]float32) []float64 {
	clear(c.lines)
	for _, row := range rows {
		c.addLines(row)
	}
	binHz := c.plan.BinHz(c.rate)
	mean, sd := meanAndSpread(c.lines[int(4/binHz):int(0.45*c.rate/binHz)])
	for k, taps := range c.taps {
		c.scores[k] = c.match(taps, mean, c.norm[k])/sd + c.prior[k]
	}
	return c.scores
}

// match is the matched filter of one speed, less the cost of what contradicts
// it.
func (c *comb) match(taps []tap, mean, norm float64) float64 {
	var sum float64
	var side, count [3]float64 // odd and even firing orders, orders between
	for _, t := range taps {
		v := c.lines[t.bin]*float64(1-t.part) + c.lines[t.bin+1]*float64(t.part) - mean
		sum += float64(t.weight) * v
		side[t.side] += v
		count[t.side]++
	}
	return sum*norm - alternationCost*implausible(side, count)
}

// addLines adds a row's spectrum, levelled over its neighbourhood.
func (c *comb) addLines(row []float32) {
	c.plan.Power(c.power, row)
	signal.LocalMean(c.level, c.power, int(whiteHz/c.plan.BinHz(c.rate)))
	for i, p := range c.power {
		if c.level[i] > 0 {
			c.lines[i] += math.Sqrt(p / c.level[i])
		}
	}
}

func meanAndSpread(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd/float64(len(x))) + 1e-9
}
