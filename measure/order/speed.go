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
	teeth  []teeth
	power  []float64
	lines  []float64
	above  []float32 // lines above their mean
	prior  []float64
	scores []float64
}

// teeth are the places in the spectrum where one speed has its lines: those of
// the odd and of the even firing orders, and those between them.
type teeth struct {
	taps [3][]tap
	norm float64
}

type tap struct {
	bin    int32
	part   float32
	weight float32
}

func newComb(layout engine.Layout, rate float64, hint engine.RPM, window, pad int) *comb {
	c := &comb{plan: signal.NewSpectrum(window, pad), rate: rate}
	bins := c.plan.Bins()
	c.power, c.lines, c.above = make([]float64, bins), make([]float64, bins), make([]float32, bins)
	lines := linesOf(layout)
	for hz := slowest.CycleHz(); hz <= fastest.CycleHz(); hz *= 1 + gridStep {
		c.hz = append(c.hz, hz)
		c.teeth = append(c.teeth, c.teethAt(lines, hz))
		c.prior = append(c.prior, speedPrior(engine.FromCycleHz(hz), hint))
	}
	c.scores = make([]float64, len(c.hz))
	return c
}

// line is a multiple of the cycle rate as the comb counts it.
type line struct {
	weight float64
	side   int8
}

// linesOf gives the lines of a layout, the first multiple first.
func linesOf(layout engine.Layout) []line {
	var out []line
	for h := 1; h <= maxFirings*layout.N(); h++ {
		out = append(out, line{lineWeight(layout, h), sideOf(layout, h)})
	}
	return out
}

func (c *comb) teethAt(lines []line, hz float64) teeth {
	binHz := c.plan.BinHz(c.rate)
	top := 0.45 * c.rate
	var t teeth
	var squares float64
	for i, l := range lines {
		f := float64(i+1) * hz
		if f >= top {
			break
		}
		squares += l.weight * l.weight
		if l.weight > 0 {
			at := f / binHz
			t.taps[l.side] = append(t.taps[l.side], tap{int32(at), float32(at - math.Floor(at)), float32(l.weight)})
		}
	}
	t.norm = 1 / math.Sqrt(max(squares, 1))
	return t
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

// sideOf sorts the lines: odd firing orders, even ones, those between.
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
func implausible(side [3]float32, taps [3][]tap) float64 {
	odd, even, between := float64(side[0]), float64(side[1]), float64(side[2])
	odds, evens := float64(len(taps[0])), float64(len(taps[1]))
	firing := (odd + even) / max(odds+evens, 1)
	var alternating float64
	if evens > 0 {
		alternating = even/evens - odd/max(odds, 1)
	}
	return max(0, alternating) + max(0, between/max(float64(len(taps[2])), 1)-betweenShare*firing)
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
		c.plan.Power(c.power, row)
		signal.AddWhitened(c.lines, c.power, int(whiteHz/c.plan.BinHz(c.rate)))
	}
	binHz := c.plan.BinHz(c.rate)
	mean, sd := meanAndSpread(c.lines[int(4/binHz):int(0.45*c.rate/binHz)])
	for i, v := range c.lines {
		c.above[i] = float32(v - mean)
	}
	for k := range c.scores {
		c.scores[k] = c.match(c.teeth[k])/sd + c.prior[k]
	}
	return c.scores
}

// match is the matched filter of one speed, less the cost of what contradicts
// it.
func (c *comb) match(t teeth) float64 {
	var sum float32
	var side [3]float32 // odd and even firing orders, orders between
	for s, taps := range t.taps {
		var here float32
		for _, t := range taps {
			low := c.above[t.bin]
			v := low + t.part*(c.above[t.bin+1]-low)
			sum += t.weight * v
			here += v
		}
		side[s] = here
	}
	return float64(sum)*t.norm - alternationCost*implausible(side, t.taps)
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
