package order

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/dsp/fourier"

	"halforder/engine"
)

// picture is one band of one stretch of cycles, folded into one cycle.
type picture struct {
	mean  []complex128 // phasors, harmonic 1 first
	noise []float64    // variance of each mean
}

// fold averages the cycles of one band.
func fold(cycles []cycle, band, harmonics int) picture {
	p := picture{make([]complex128, harmonics), make([]float64, harmonics)}
	for i := range cycles {
		for h, c := range cycles[i].phasors[band*harmonics:][:harmonics] {
			v := complex128(c)
			p.mean[h] += v
			p.noise[h] += sq(v)
		}
	}
	n := float64(len(cycles))
	for h, squares := range p.noise {
		p.mean[h] /= complex(n, 0)
		p.noise[h] = max(squares/n-sq(p.mean[h]), 0) / max(n-1, 1)
	}
	return p
}

// wave unrolls phasors into a cycle of points, without its mean.
func wave(phasors []complex128, points int) []float64 {
	c := make([]complex128, points/2+1)
	copy(c[1:], phasors[:min(len(phasors), points/2)])
	var out []float64
	withPlan(points, func(fft *fourier.FFT) { out = fft.Sequence(nil, c) })
	return out
}

// quietest is the middle of the quietest eighth of a circular curve.
func quietest(x []float64) int {
	reach := max(len(x)/16, 1)
	best, bestSum := 0, math.Inf(1)
	for i := range x {
		var sum float64
		for d := -reach; d <= reach; d++ {
			sum += x[(i+d+len(x))%len(x)]
		}
		if sum < bestSum {
			best, bestSum = i, sum
		}
	}
	return best
}

// activityOf turns a waveform into its local power, smoothed over width points
// to each side.
func activityOf(x []float64, width int, noise float64) []float64 {
	weights := make([]float64, 2*width+1)
	for d := range weights {
		weights[d] = (1 + math.Cos(math.Pi*float64(d-width)/float64(width+1))) / float64(2*width+1)
	}
	squares := make([]float64, len(x)+2*width) // those of the cycle and of its neighbours' ends
	for i := range squares {
		v := x[(i-width+len(x))%len(x)]
		squares[i] = v * v
	}
	out := make([]float64, len(x))
	for i := range out {
		var sum float64
		for d, w := range weights {
			sum += w * squares[i+d]
		}
		out[i] = math.Sqrt(max(sum-noise, 0))
	}
	return out
}

func sq(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

const (
	groups  = 6  // stretches of cycles whose differences give the errors
	perSlot = 48 // points of a slot
)

// turnHarmonic is order 1: the unbalance of whatever turns with the crank is a
// pure tone there, in the bass, and says nothing of the firings.
const turnHarmonic = 2

// view is what is looked at: a band between two harmonics of the cycle.
type view struct {
	band, from, to int
	low            bool
	smooth         int  // points to each side
	power          bool // strengths by power in the slot, not by likeness to the others
}

// viewsOf lists the views. The low band is looked at twice: the first firing
// orders, where combustion is strongest, and those above.
func viewsOf(bands, harmonics, n int) []view {
	edge := 3 * n
	var out []view
	for _, power := range []bool{false, true} {
		out = append(out, view{0, 1, edge, true, perSlot / 6, power}, view{0, edge + 1, harmonics, true, perSlot / 8, power})
	}
	for b := 1; b < bands; b++ {
		out = append(out, view{b, 1, harmonics, false, 0, false})
	}
	return out
}

// weigh gives the evidence of every view.
func weigh(f *folded) []evidence {
	n := f.layout.N()
	parts := f.parts()
	var out []evidence
	first := map[bool]float64{} // by low: where the first view's pulse stands
	for _, v := range viewsOf(len(f.bands), f.harmonics, n) {
		if f.bands[v.band].clarity(v, n) < clearView {
			continue
		}
		e := f.evidence(v, parts)
		if _, ok := first[v.low]; !ok {
			first[v.low] = e.pulse
		}
		if f.layout.Even() {
			e = e.turned(first[v.low])
		}
		out = append(out, e)
	}
	return out
}

// evidence of one view, its errors from the parts of the run.
func (f *folded) evidence(v view, parts []*folded) evidence {
	return f.evidenceBy(f.cutOf(v), v, parts)
}

// evidenceAt is the same with the slots where they stood in another run, each
// against the usual one of that: here most may be quiet.
func (f *folded) evidenceAt(other evidence, parts []*folded) evidence {
	activity := f.activity(other.view)
	places, width := placesOf(f.layout, len(activity))
	c := other.cut
	c.base = cutAt(activity, places, width, c.starts[0]).base
	return f.evidenceBy(c, other.view, parts)
}

// cutOf cuts a view into slots, each with a pulse of its own time above the bass.
func (f *folded) cutOf(v view) cut {
	activity := f.activity(v)
	c := newCut(activity, f.layout, v.power)
	if !v.low {
		c.seekPulses(activity)
	}
	return c
}

func (f *folded) evidenceBy(cut cut, v view, parts []*folded) evidence {
	e := evidence{view: v, strength: cut.strengths(f.activity(v)), pulse: cut.pulse(), cut: cut}
	e.spread = make([]float64, len(e.strength))
	sum, squares := make([]float64, len(e.strength)), make([]float64, len(e.strength))
	for _, part := range parts {
		for k, s := range cut.strengths(part.activity(v)) {
			sum[k] += s
			squares[k] += s * s
		}
	}
	g := float64(len(parts))
	for k := range e.spread {
		m := sum[k] / g
		e.spread[k] = math.Sqrt(max(squares[k]/g-m*m, 0) / max(g-1, 1))
	}
	return e
}

// clearView is the clarity below which a view shows noise, not the engine.
const clearView = 6.0

// clarity is the power of the folded harmonics over the variance of their
// means: of all in the view, or of the firing orders alone when they stand out
// more. Noise has 1.
func (p picture) clarity(v view, n int) float64 {
	var all, firing, count, firings float64
	for h := v.from; h <= v.to; h++ {
		if p.noise[h-1] == 0 {
			continue // out of reach
		}
		f := sq(p.mean[h-1]) / max(p.noise[h-1], 1e-30)
		all, count = all+f, count+1
		if h%n == 0 {
			firing, firings = firing+f, firings+1
		}
	}
	return max(all/max(count, 1), firing/max(firings, 1))
}

// turned renumbers the slots so that they start where those of another view
// do, to the nearest slot.
func (e evidence) turned(pulse float64) evidence {
	return e.turnedBy(int(math.Round(e.pulse - pulse)))
}

func (e evidence) turnedBy(turn int) evidence {
	n := len(e.strength)
	out := evidence{view: e.view, pulse: e.pulse, cut: e.cut, turn: turn}
	for k := range n {
		from := ((k-turn)%n + n) % n
		out.strength = append(out.strength, e.strength[from])
		out.spread = append(out.spread, e.spread[from])
	}
	return out
}

// cut says where the slots stand and what the usual slot looks like.
type cut struct {
	starts []int // by firing, in points
	late   []int // by firing: how much later its pulse comes than the usual one, in points
	shape  []float64
	norm   float64
	base   float64
	power  bool
}

// newCut finds the slots in an activity curve of one cycle. Even engines cut
// where the usual slot is quietest. Uneven ones have only one place where all
// firings find a pulse.
func newCut(activity []float64, layout engine.Layout, power bool) cut {
	places, width := placesOf(layout, len(activity))
	var c cut
	if layout.Even() {
		c = cutAt(activity, places, width, 0)
		at := quietest(c.shape)
		c = cutAt(activity, places, width, at)
	} else {
		for at := range activity {
			if next := cutAt(activity, places, width, at); next.norm > c.norm || at == 0 {
				c = next
			}
		}
	}
	c.power = power
	return c
}

// placesOf gives the firings in points of a cycle, and the shortest interval.
func placesOf(layout engine.Layout, points int) (places []int, width int) {
	width = points
	for k, a := range layout.Angles() {
		places = append(places, int(math.Round(float64(a/engine.CycleDeg)*float64(points))))
		width = min(width, int(float64(layout.Interval(k)/engine.CycleDeg)*float64(points)))
	}
	return places, max(width, 1)
}

func cutAt(activity []float64, places []int, width, at int) cut {
	c := cut{starts: make([]int, len(places)), late: make([]int, len(places)), shape: make([]float64, width), base: math.Inf(1)}
	each := make([]float64, len(places))
	for k, p := range places {
		c.starts[k] = (p + at) % len(activity)
	}
	for i := range c.shape {
		for k, s := range c.starts {
			each[k] = activity[(s+i)%len(activity)]
		}
		c.shape[i] = median(each)
		c.base = min(c.base, c.shape[i])
	}
	for i := range c.shape {
		c.shape[i] -= c.base
		c.norm += c.shape[i] * c.shape[i]
	}
	return c
}

// pulse is where the first slot's pulse stands, in slots from the cycle start.
func (c cut) pulse() float64 {
	var sum, weight float64
	for i, v := range c.shape {
		sum += v * float64(c.starts[0]+i)
		weight += v
	}
	return sum / max(weight, 1e-300) / float64(len(c.shape))
}

func (c cut) strengths(activity []float64) []float64 {
	s := make([]float64, len(c.starts))
	for k, start := range c.starts {
		if !c.power {
			s[k] = c.likeness(activity, k, c.late[k])
			continue
		}
		for i := range c.shape {
			v := activity[(start+i)%len(activity)]
			s[k] += v * math.Abs(v)
		}
	}
	if c.power {
		return scaled(s, median(append([]float64(nil), s...)))
	}
	return scaled(s, c.norm)
}

// scaled divides by what should be the typical strength; where there is none,
// all count as alike, and their differences from stretch to stretch tell how
// little that means.
func scaled(s []float64, by float64) []float64 {
	for k := range s {
		if by > 1e-300 {
			s[k] /= by
		} else {
			s[k] = 1
		}
	}
	return s
}

// clickLimit is the height above which a sharp peak of the folded low band is
// cut out, in robust spreads. A sine reaches 0.95 of them, a click many.
const (
	clickLimit = 3.0
	clickReach = perSlot / 12 // points to each side that go with it
)

// limit cuts the peaks out of a folded bass cycle, puts there what the other
// slots do, and returns its phasors: what is louder for an instant than the
// rest of the cycle, and in an upper band too, is no combustion pulse but a
// click near the microphone. A peak in the bass alone stays: the gas rushing
// back into a dead cylinder makes one at the tailpipe.
func limit(phasors []complex128, uppers [][]float64, layout engine.Layout) []complex128 {
	if !layout.Even() || layout.N() < 3 {
		return phasors // no other slots to compare with
	}
	n := layout.N()
	points := perSlot * n
	w := wave(phasors, points)
	size := make([]float64, points)
	for i, v := range w {
		size[i] = math.Abs(v)
	}
	top := clickLimit * 1.4826 * median(size)
	lows := make([]float64, len(uppers))
	for b, upper := range uppers {
		lows[b] = slices.Min(upper)
	}
	out := append([]float64(nil), w...)
	for i, v := range w {
		if math.Abs(v) <= top || !clicks(uppers, lows, i, n) {
			continue
		}
		for d := -clickReach; d <= clickReach; d++ {
			at := (i + d + points) % points
			out[at] = usual(w, at, n)
		}
	}
	for i := range out {
		out[i] /= float64(points)
	}
	var c []complex128
	withPlan(points, func(fft *fourier.FFT) { c = fft.Coefficients(nil, out) })
	return c[1 : len(phasors)+1]
}

// clickUpper is how much louder than in the other slots an upper band must be
// where the bass has a click.
const clickUpper = 1.3

// clicks reports whether an upper band is unusually loud at a place, given how
// low each goes.
func clicks(uppers [][]float64, lows []float64, at, n int) bool {
	for b, w := range uppers {
		if low := lows[b]; w[at]-low > clickUpper*(usual(w, at, n)-low) {
			return true
		}
	}
	return false
}

// usual is the median over the slots at one place of the slot.
func usual(w []float64, at, n int) float64 {
	each := make([]float64, n)
	for k := range each {
		each[k] = w[(at+k*perSlot)%len(w)]
	}
	return median(each)
}

// median of x, which it sorts.
func median(x []float64) float64 {
	sort.Float64s(x)
	n := len(x)
	return (x[n/2] + x[(n-1)/2]) / 2
}
