package order

import (
	"cmp"
	"math"
	"slices"

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
	whiteHz         = 40.0  // each spectrum is levelled over this reach to each side
	halfWeight      = 0.2   // weight of a line off the firing order, see comb
	betweenShare    = 1.0   // how strong the orders between may be against the firing orders
	turnWeight      = 0.5   // weight of order 1, where the unbalance of whatever turns shows
	wideHz          = 160.0 // the same where lines of one speed are compared with each other: they may stand 54 Hz apart
	alternationCost = 2.5   // see score
	maxFirings      = 8     // firing orders in the comb
	maxHalfOrders   = 3     // half orders up to this firing order
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
	lines  *signal.Whitened // above their mean, within whiteHz and within wideHz
	prior  []float64
	halved bool // every other line may be missing: it proved not to turn faster
	scores []float64
}

// combTop is the highest frequency looked at, of the frame rate.
const combTop = 0.45

// teeth are the places in the spectrum where one speed has its lines, by class,
// and what contradicts it.
type teeth struct {
	taps                 [classes][]tap
	norm                 float64
	between, even, folds contrast
	folded               bool // an engine can turn at N times this speed
}

type tap struct {
	bin    uint32
	part   float32
	weight float32
}

func newComb(layout engine.Layout, rate float64, hint engine.RPM, window, pad int) *comb {
	c := &comb{plan: signal.NewSpectrum(window, pad), rate: rate}
	binHz := c.plan.BinHz(rate)
	c.power = make([]float64, c.plan.Bins())
	c.lines = signal.NewWhitened(int(combTop*rate/binHz)+2, int(whiteHz/binHz), int(wideHz/binHz))
	lines := linesOf(layout)
	for hz := slowest.CycleHz(); hz <= fastest.CycleHz(); hz *= 1 + gridStep {
		c.hz = append(c.hz, hz)
	}
	c.teeth, c.prior, c.scores = make([]teeth, len(c.hz)), make([]float64, len(c.hz)), make([]float64, len(c.hz))
	for k, hz := range c.hz {
		c.teeth[k], c.prior[k] = c.teethAt(layout, lines, hz), speedPrior(engine.FromCycleHz(hz), hint)
	}
	return c
}

// line is a multiple of the cycle rate as the comb counts it.
type line struct {
	h      float64
	weight float64
	class  int8
}

// linesOf gives the lines of a layout that count, class by class.
func linesOf(layout engine.Layout) []line {
	var out []line
	for h := 1; h <= maxFirings*layout.N(); h++ {
		if w := lineWeight(layout, h); w > 0 {
			out = append(out, line{float64(h), w, classOf(layout, h)})
		}
	}
	slices.SortStableFunc(out, func(a, b line) int { return cmp.Compare(a.class, b.class) })
	return out
}

func (c *comb) teethAt(layout engine.Layout, lines []line, hz float64) teeth {
	binHz := c.plan.BinHz(c.rate)
	top := combTop * c.rate
	var t teeth
	var count [classes]float64
	var squares float64
	taps, from := make([]tap, 0, len(lines)), 0
	for class := range t.taps {
		for ; len(lines) > 0 && int(lines[0].class) == class; lines = lines[1:] {
			l := &lines[0]
			if f := l.h * hz; f < top {
				at := f / binHz
				taps = append(taps, tap{uint32(at), float32(at - math.Floor(at)), float32(l.weight)})
				squares += l.weight * l.weight
			}
		}
		t.taps[class], from = taps[from:len(taps):len(taps)], len(taps)
		count[class] = float64(len(t.taps[class]))
	}
	t.norm = 1 / math.Sqrt(max(squares, 1))
	t.between, t.even, t.folds = overtones(&count), excess(evenClass, &count), excess(foldClass, &count)
	t.folded = engine.FromCycleHz(hz*float64(layout.N())) <= fastest
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

// Classes of lines: multiples of the firing order by whether twice and whether
// N times it divides them, and what lies between the firing orders.
const (
	evenClass    = 1
	foldClass    = 2
	betweenClass = 4
	classes      = 5
)

// classOf sorts a multiple of the cycle rate.
func classOf(layout engine.Layout, h int) int8 {
	n := layout.N()
	switch {
	case absPhasor(layout, h) < naturalLine*float64(n):
		return betweenClass
	case !layout.Even():
		return 0
	}
	var class int8
	if h/n%2 == 0 {
		class |= evenClass
	}
	if h/n%n == 0 {
		class |= foldClass
	}
	return class
}

// contrast is by how much lines of some classes stand above those of others: the
// weight of the sum of each class.
type contrast [classes]float64

// of sums by class; 0 where the others are stronger.
func (c *contrast) of(sums *[classes]float64) float64 {
	return max(0, c[0]*sums[0]+c[1]*sums[1]+c[2]*sums[2]+c[3]*sums[3]+c[4]*sums[4])
}

// excess compares the firing orders of a class with the others, given how many
// lines each class has.
func excess(class int, count *[classes]float64) (c contrast) {
	var ins, outs float64
	for k := range betweenClass {
		if k&class != 0 {
			ins += count[k]
		} else {
			outs += count[k]
		}
	}
	if ins == 0 {
		return c
	}
	for k := range betweenClass {
		if k&class != 0 {
			c[k] = 1 / ins
		} else {
			c[k] = -1 / max(outs, 1)
		}
	}
	return c
}

// overtones compares the lines between the firing orders with those.
func overtones(count *[classes]float64) (c contrast) {
	var firings float64
	for k := range betweenClass {
		firings += count[k]
	}
	for k := range betweenClass {
		c[k] = -betweenShare / max(firings, 1)
	}
	c[betweenClass] = 1 / max(count[betweenClass], 1)
	return c
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

// refute makes a speed hardly likely that proved to be a multiple of the true
// one, and its own multiples with it; 0 refutes nothing. That the lines of a
// multiple are the stronger ones counts no more.
func (c *comb) refute(n engine.RPM) {
	if c.halved = n > 0; !c.halved {
		return
	}
	for k, hz := range c.hz {
		ratio := hz / n.CycleHz()
		z := math.Log(ratio/max(1, math.Round(ratio))) / 0.15
		c.prior[k] -= jumpCost * math.Exp(-z*z/2)
	}
}

// score fills c.scores from one window of all bands.
func (c *comb) score(rows [][]float32) []float64 {
	c.lines.Clear()
	for _, row := range rows {
		c.plan.Power(c.power, row)
		c.lines.Add(c.power)
	}
	from := int(4 / c.plan.BinHz(c.rate))
	sd := levelled(c.lines.Near, from)
	levelled(c.lines.Far, from)
	for k := range c.scores {
		c.scores[k] = c.match(&c.teeth[k])/sd + c.prior[k]
	}
	return c.scores
}

// levelled takes the mean out of x, which is that from a bin on without the last
// two, and returns the spread there.
func levelled(x []float32, from int) float64 {
	mean, sd := meanAndSpread(x[from : len(x)-2])
	for i := range x {
		x[i] -= float32(mean)
	}
	return sd
}

// match is the matched filter of one speed, less what contradicts it: when every
// second firing order is strong and those between are weak, the engine turns at
// twice of it; when every Nth, at N times of it with a dead cylinder; when the
// orders between the firing orders are as strong as those, at a part of it.
func (c *comb) match(t *teeth) float64 {
	var total float32
	var sums [classes]float64
	for s, taps := range t.taps {
		var sum, weighted float32
		for _, t := range taps {
			v := read(c.lines.Near, t)
			sum += v
			weighted += t.weight * v
		}
		total += weighted
		sums[s] = float64(sum)
	}
	against, alternates := t.between.of(&sums), 0.0
	if !c.halved {
		alternates = t.even.of(&sums)
	}
	if t.folded && !c.halved {
		for s, taps := range t.taps[:betweenClass] {
			var sum float32
			for _, t := range taps {
				sum += read(c.lines.Far, t)
			}
			sums[s] = float64(sum)
		}
		alternates = max(alternates, t.folds.of(&sums))
	}
	return float64(total)*t.norm - alternationCost*(against+alternates)
}

// read interpolates at a tap.
func read(x []float32, t tap) float32 {
	low, high := x[t.bin], x[t.bin+1]
	return low + t.part*(high-low)
}

func meanAndSpread(x []float32) (mean, sd float64) {
	for _, v := range x {
		mean += float64(v)
	}
	mean /= float64(len(x))
	for _, v := range x {
		d := float64(v) - mean
		sd += d * d
	}
	return mean, math.Sqrt(sd/float64(len(x))) + 1e-9
}
