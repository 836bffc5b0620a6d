package order

import (
	"math"

	"halforder/engine"
	"halforder/signal"
)

const (
	windowSeconds   = 1.0
	shortestSeconds = 0.5
	hopSeconds      = 0.25
	gridStep        = 0.004 // ratio of neighbouring speeds on the grid, below half the 1 % asked for
	slowest         = engine.RPM(200)
	fastest         = engine.RPM(7500)
	whiteHz         = 40.0 // each spectrum is levelled over this reach to each side
	halfWeight      = 0.2  // weight of a line off the firing order, see comb
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
	parity float32 // see alternation
}

func newComb(layout engine.Layout, rate float64, hint engine.RPM, window int) *comb {
	c := &comb{plan: signal.NewSpectrum(window, 2), rate: rate}
	bins := c.plan.Bins()
	c.power, c.level, c.lines = make([]float64, bins), make([]float64, bins), make([]float64, bins)
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
		w := lineWeight(layout, h)
		if w == 0 {
			continue
		}
		at := float64(h) * hz / binHz
		taps = append(taps, tap{int(at), float32(at - math.Floor(at)), float32(w), parity(layout, h)})
		squares += w * w
	}
	c.taps = append(c.taps, taps)
	c.norm = append(c.norm, 1/math.Sqrt(max(squares, 1)))
}

// lineWeight is 1 for a line the healthy engine has. An uneven engine has its
// natural lines in proportion to its own phasors.
func lineWeight(layout engine.Layout, h int) float64 {
	natural := absPhasor(layout, h) / float64(layout.N())
	if h == 2 {
		return max(natural, turnWeight)
	}
	if h > maxHalfOrders*layout.N() && natural < halfWeight {
		return 0
	}
	return max(natural, halfWeight)
}

// parity is what a line counts in the alternation test: −1 and +1 for odd and
// even multiples of the firing order of an even-firing engine.
func parity(layout engine.Layout, h int) float32 {
	n := layout.N()
	if !layout.Even() || h%n != 0 {
		return 0
	}
	return float32(1 - 2*(h/n%2))
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
	binHz := c.plan.BinHz(c.rate)
	clear(c.lines)
	for _, row := range rows {
		c.plan.Power(c.power, row)
		signal.LocalMean(c.level, c.power, int(whiteHz/binHz))
		for i, p := range c.power {
			if c.level[i] > 0 {
				c.lines[i] += math.Sqrt(p / c.level[i])
			}
		}
	}
	mean, sd := meanAndSpread(c.lines[int(4/binHz):int(0.45*c.rate/binHz)])
	for k, taps := range c.taps {
		var sum, alternation float64
		var even, odd float64
		var nEven, nOdd float64
		for _, t := range taps {
			v := c.lines[t.bin]*float64(1-t.part) + c.lines[t.bin+1]*float64(t.part) - mean
			sum += float64(t.weight) * v
			switch {
			case t.parity > 0:
				even += v
				nEven++
			case t.parity < 0:
				odd += v
				nOdd++
			}
		}
		if nEven > 0 {
			alternation = max(0, even/nEven-odd/nOdd)
		}
		c.scores[k] = (sum*c.norm[k]-alternationCost*alternation)/sd + c.prior[k]
	}
	return c.scores
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
