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
	pathWeight      = 0.5  // the same in the upper bands, where each cylinder has its own path
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
	norm   [][2]float64 // by grid place: low band, upper bands
	power  []float64
	level  []float64
	lines  [2][]float64 // the low band's, the upper bands'
	prior  []float64
	scores []float64
}

type tap struct {
	bin    int
	part   float32
	weight [2]float32
	parity float32 // see alternation
}

func newComb(layout engine.Layout, rate float64, hint engine.RPM, window int) *comb {
	c := &comb{plan: signal.NewSpectrum(window, 2), rate: rate}
	bins := c.plan.Bins()
	c.power, c.level = make([]float64, bins), make([]float64, bins)
	c.lines = [2][]float64{make([]float64, bins), make([]float64, bins)}
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
	var squares [2]float64
	for h := 1; h <= maxFirings*n && float64(h)*hz < top; h++ {
		at := float64(h) * hz / binHz
		t := tap{bin: int(at), part: float32(at - math.Floor(at)), parity: parity(layout, h)}
		for i, off := range []float64{halfWeight, pathWeight} {
			w := lineWeight(layout, h, off)
			t.weight[i] = float32(w)
			squares[i] += w * w
		}
		if t.weight != [2]float32{} {
			taps = append(taps, t)
		}
	}
	c.taps = append(c.taps, taps)
	c.norm = append(c.norm, [2]float64{1 / math.Sqrt(max(squares[0], 1)), 1 / math.Sqrt(max(squares[1], 1))})
}

// lineWeight is 1 for a line the healthy engine has. An uneven engine has its
// natural lines in proportion to its own phasors.
func lineWeight(layout engine.Layout, h int, off float64) float64 {
	natural := absPhasor(layout, h) / float64(layout.N())
	if h == turnHarmonic {
		return max(natural, turnWeight)
	}
	if h > maxHalfOrders*layout.N() && natural < off {
		return 0
	}
	return max(natural, off)
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

// score fills c.scores from one window of all bands, the low one first.
func (c *comb) score(rows [][]float32) []float64 {
	clear(c.lines[0])
	clear(c.lines[1])
	for i, row := range rows {
		c.addLines(c.lines[min(i, 1)], row)
	}
	kinds := min(len(rows), 2)
	for k := range c.scores {
		c.scores[k] = c.prior[k]
	}
	for i := range kinds {
		c.addScores(i, 1/math.Sqrt(float64(kinds)))
	}
	return c.scores
}

// addLines adds a row's spectrum, levelled over its neighbourhood.
func (c *comb) addLines(lines []float64, row []float32) {
	c.plan.Power(c.power, row)
	signal.LocalMean(c.level, c.power, int(whiteHz/c.plan.BinHz(c.rate)))
	for i, p := range c.power {
		if c.level[i] > 0 {
			lines[i] += math.Sqrt(p / c.level[i])
		}
	}
}

// addScores adds a kind of bands' matched filter, less the cost of firing
// orders of which every other is weak: those belong to half the speed.
func (c *comb) addScores(kind int, share float64) {
	lines := c.lines[kind]
	binHz := c.plan.BinHz(c.rate)
	mean, sd := meanAndSpread(lines[int(4/binHz):int(0.45*c.rate/binHz)])
	for k, taps := range c.taps {
		var sum float64
		var side [2]float64
		var count [2]float64
		for _, t := range taps {
			v := lines[t.bin]*float64(1-t.part) + lines[t.bin+1]*float64(t.part) - mean
			sum += float64(t.weight[kind]) * v
			if t.parity != 0 {
				i := int(t.parity+1) / 2
				side[i] += v
				count[i]++
			}
		}
		if count[1] > 0 {
			sum -= alternationCost * max(0, side[1]/count[1]-side[0]/count[0]) / c.norm[k][kind]
		}
		c.scores[k] += share * sum * c.norm[k][kind] / sd
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
