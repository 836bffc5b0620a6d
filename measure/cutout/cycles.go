package cutout

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"

	"halforder/signal"
)

// Cycles is what the engine sounded like cycle by cycle: at each time the shape
// of one whole cycle around it, in parts that add up: by sound the harmonics in all
// bands, by crank marks how long each part took. A cut takes one cylinder's share
// out of them from one cycle to the next, where the speed takes half a second.
type Cycles struct {
	T []float64   // s, ascending
	X [][]float64 // as many as T, equally long; any unit

	// Harmonics is of how many harmonics of the cycle X holds real and imaginary
	// parts, the first one first, band after band; 0: it holds something else, and
	// only times cuts.
	Harmonics int
	// Alike is how much cylinders that do the same differ in X, as a share.
	Alike float64
	// Sways is how much what a firing leaves in X changes with the speed: as a share,
	// for a share of the speed.
	Sways float64
}

func (c Cycles) check() error {
	if len(c.T) != len(c.X) {
		return fmt.Errorf("cycles have %d times and %d values, expected as many", len(c.T), len(c.X))
	}
	for i, x := range c.X {
		if c.Harmonics < 0 || c.Harmonics > 0 && len(x)%(2*c.Harmonics) != 0 {
			return fmt.Errorf("cycle %d has %d values, which are no %d harmonics of whole bands", i+1, len(x), c.Harmonics)
		}
		if len(x) != c.width() {
			return fmt.Errorf("cycle %d has %d values, the first has %d", i+1, len(x), c.width())
		}
		if !finite(c.T[i]) || slices.ContainsFunc(x, func(v float64) bool { return !finite(v) }) {
			return fmt.Errorf("cycle %d holds what is no number", i+1)
		}
		if i > 0 && c.T[i] < c.T[i-1] {
			return fmt.Errorf("time of cycles runs backwards at cycle %d", i+1)
		}
	}
	return nil
}

// cyclesPerLook is how many looks go to a cycle.
const cyclesPerLook = 0.5

// cyclesOf looks at every half cycle through a window of one: harmonics of the
// cycle part exactly in it, whatever the speed does, for it is followed.
func cyclesOf(f signal.Frames, cylinders int, speed Track) Cycles {
	e := newEar(f, cylinders, speed)
	var c Cycles
	if len(e.phase) == 0 {
		return c
	}
	last := e.phase[len(e.phase)-1] - 2*math.Pi
	from, to := 0, 0
	for at := 0.0; at < last; at += 2 * math.Pi * cyclesPerLook {
		for e.phase[from] < at {
			from++
		}
		to = max(to, from)
		for e.phase[to] < at+2*math.Pi {
			to++
		}
		c.T = append(c.T, float64(from+to)/2/f.Rate)
		e.looks = append(e.looks, e.cycle(from, to))
	}
	e.balance()
	e.align()
	c.Harmonics = e.harmonics()
	for _, look := range e.looks {
		c.X = append(c.X, parts(look))
	}
	return c
}

// cycle is the harmonics between two frames, all bands.
func (e *ear) cycle(from, to int) []complex128 {
	h := e.harmonics()
	sums := make([]complex128, len(e.frames.Rows)*h)
	scale := complex(1/float64(max(to-from, 1)), 0)
	for k := from; k < to; k++ {
		turn := cmplx.Rect(1, -e.phase[k])
		back := turn * scale
		for j := range h {
			for b, row := range e.frames.Rows {
				sums[b*h+j] += complex(float64(row[k]), 0) * back
			}
			back *= turn
		}
	}
	return sums
}

// The phase of the cycle drifts with the smallest error of the speed. The firing
// orders hold it: they keep their phase whichever cylinder is missing. They are
// compared with their own mean over the last alignMemory looks, at alignPlaces to
// each side, up to a quarter of a firing from one look to the next.
const (
	alignMemory = 30.0
	alignPlaces = 12
)

// align turns every look back to where its firing orders have the cycle.
func (e *ear) align() {
	h := e.harmonics()
	mean := make([]complex128, len(e.frames.Rows)*h)
	off := 0.0
	for i, look := range e.looks {
		best, at := e.fits(look, mean, off), off // silence keeps the phase
		for k := -alignPlaces; k <= alignPlaces && i > 0; k++ {
			d := off + math.Pi/2/float64(e.n)*float64(k)/alignPlaces
			if v := e.fits(look, mean, d); v > best {
				best, at = v, d
			}
		}
		off = at
		for n := range look {
			b, j := n/h, n%h
			look[n] *= cmplx.Rect(e.gain[b], -float64(j+1)*off)
			mean[n] += (look[n] - mean[n]) * complex(1/math.Min(float64(i+1), alignMemory), 0)
		}
	}
}

// fits is how well the firing orders of a look, turned back by d, agree with mean.
func (e *ear) fits(look, mean []complex128, d float64) (sum float64) {
	h := e.harmonics()
	for j := e.n; j <= h; j += e.n {
		back := cmplx.Rect(1, -float64(j)*d)
		for b := range e.frames.Rows {
			n := b*h + j - 1
			sum += e.gain[b] * real(look[n]*back*cmplx.Conj(mean[n]))
		}
	}
	return sum
}

// parts are real and imaginary parts.
func parts(z []complex128) []float64 {
	out := make([]float64, 0, 2*len(z))
	for _, v := range z {
		out = append(out, real(v), imag(v))
	}
	return out
}

func (c Cycles) width() int {
	if len(c.X) == 0 {
		return 0
	}
	return len(c.X[0])
}

// Stretches around an end of a cut that are surely on one side of it, s from
// where the speed has the end.
const (
	sureBefore, sureAfter = 0.8, 0.8
	outsideReach          = 5.0
	leastCycles           = 6
	scanReach             = 1.0
)

// between are the cycles in [from, to).
func (c Cycles) between(from, to float64) [][]float64 {
	a, _ := slices.BinarySearch(c.T, from)
	b, _ := slices.BinarySearch(c.T, max(to, from))
	return c.X[a:b]
}

// separation tells cycles of one kind from those of another.
type separation struct {
	weight []float64
	first  float64 // mean score of the first kind
	apart  float64 // how much higher the second kind scores
	sigma  float64 // of one look
}

// tell learns what parts two kinds of cycles. How far they lie apart is measured
// on cycles not learnt from: each half is scored by the other. ok is false where
// they are too few or too alike.
func tell(off, on [][]float64) (s separation, ok bool) {
	if len(off) < leastCycles || len(on) < leastCycles {
		return s, false
	}
	early := contrast(off[:len(off)/2], on[:len(on)/2])
	late := contrast(off[len(off)/2:], on[len(on)/2:])
	var mean, variance [2]float64
	for kind, x := range [][][]float64{off, on} {
		half := len(x) / 2
		a, va := meanAndVariance(scores(late, x[:half]))
		b, vb := meanAndVariance(scores(early, x[half:]))
		mean[kind], variance[kind] = (a+b)/2, (va+vb)/2
	}
	s.sigma = math.Sqrt((variance[0] + variance[1]) / 2)
	s.first, s.apart = mean[0], mean[1]-mean[0]
	if s.sigma <= 0 || s.apart < leastApart*s.sigma {
		return s, false
	}
	s.weight = make([]float64, len(early))
	for i := range s.weight {
		s.weight[i] = (early[i] + late[i]) / 2
	}
	return s, true
}

// contrast weighs each value by the difference of its means over its spread,
// shrunk by what chance alone would give, and turns away from what varies within
// a kind: a cylinder that misfires now and then moves many values together.
func contrast(off, on [][]float64) []float64 {
	means := [2][]float64{meansOf(off), meansOf(on)}
	n := float64(len(off) + len(on))
	weight, spread := make([]float64, len(off[0])), make([]float64, len(off[0]))
	rest := mat.NewDense(len(off)+len(on), len(weight), nil)
	row := 0
	for kind, looks := range [][][]float64{off, on} {
		for _, x := range looks {
			for i, v := range x {
				v -= means[kind][i]
				rest.Set(row, i, v)
				spread[i] += v * v / n
			}
			row++
		}
	}
	for i, variance := range spread {
		if variance <= 0 {
			continue
		}
		spread[i] = math.Sqrt(variance)
		d := means[1][i] - means[0][i]
		// Looks overlap by half: two count as one.
		chance := variance * (2/float64(len(off)) + 2/float64(len(on)))
		weight[i] = d / spread[i] * math.Max(0, 1-chance/(d*d+1e-30))
	}
	rest.Apply(func(_, i int, v float64) float64 { return v / math.Max(spread[i], 1e-30) / math.Sqrt(n) }, rest)
	turned := awayFrom(rest, weight)
	for i := range turned {
		turned[i] /= math.Max(spread[i], 1e-30)
	}
	return turned
}

// believed is how far the correlations of values that some tens of looks show are
// believed: they are too few to show all (judgement).
const believed = 0.5

// awayFrom solves for the weights under correlations Rᵀ·R, shrunk to none by
// Woodbury's identity.
func awayFrom(r *mat.Dense, weight []float64) []float64 {
	var sym mat.SymDense
	sym.SymOuterK(1, r)
	for i := range sym.SymmetricDim() {
		sym.SetSym(i, i, sym.At(i, i)+(1-believed)/believed)
	}
	v := mat.NewVecDense(len(weight), weight)
	var side, x, back mat.VecDense
	side.MulVec(r, v)
	var ch mat.Cholesky
	if !ch.Factorize(&sym) || ch.SolveVecTo(&x, &side) != nil {
		return weight
	}
	back.MulVec(r.T(), &x)
	out := make([]float64, len(weight))
	for i := range out {
		out[i] = weight[i] - back.AtVec(i)
	}
	return out
}

func meansOf(x [][]float64) []float64 {
	out := make([]float64, len(x[0]))
	for _, row := range x {
		for i, v := range row {
			out[i] += v / float64(len(x))
		}
	}
	return out
}

// leastApart is how far the two kinds must lie apart, in standard deviations of
// one look (judgement).
const leastApart = 1.2

func meanAndVariance(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		variance += (v - mean) * (v - mean) / float64(len(x))
	}
	return mean, variance
}

func scores(weight []float64, x [][]float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		for j, w := range weight {
			out[i] += w * x[i][j]
		}
	}
	return out
}

// mostOff is how many standard deviations one look may be off and still count
// more than none at all: a clank is loud.
const mostOff = 3.5

// ramps are how long cycles take from one kind to the other, s: fuel comes back
// more slowly than it goes.
var ramps = map[bool][]float64{false: {0, 0.2}, true: {0, 0.2, 0.4, 0.6}}

// usualRamp makes long ramps rarer, s.
const usualRamp = 0.2

// change is when cycles of the first kind begin to give way to those of the
// second, near a time that the speed gave: the mean over all times and ramps,
// each weighed by how likely it is.
func (c Cycles) change(s separation, near float64, back bool) float64 {
	first, _ := slices.BinarySearch(c.T, near-scanReach-sureBefore)
	last, _ := slices.BinarySearch(c.T, near+scanReach+sureAfter)
	if last <= first {
		return near
	}
	half := max(c.T[last-1]-c.T[first], 0.01) / float64(max(last-first-1, 1)) // looks are half a cycle apart
	score := scores(s.weight, c.X[first:last])
	var at, logs []float64
	for t := near - scanReach; t <= near+scanReach; t += 0.02 {
		for _, ramp := range ramps[back] {
			z := (t - near) / endSpread
			sum := -z*z/2 - ramp/usualRamp
			for i := first; i < last; i++ {
				off := (score[i-first] - s.first - s.apart*rise(c.T[i]-t, ramp, half)) / s.sigma
				sum -= min(off*off, mostOff*mostOff) / 2 / 2 // looks overlap by half
			}
			at, logs = append(at, t), append(logs, sum)
		}
	}
	total := logSum(logs)
	mean := 0.0
	for i, v := range logs {
		mean += at[i] * math.Exp(v-total)
	}
	return mean
}

// rise goes from 0 to 1 as a window of a whole cycle slides over a ramp that
// begins at 0; half is half the window.
func rise(t, ramp, half float64) float64 {
	return min(max((t+half)/(ramp+2*half), 0), 1)
}

// place puts the ends of cuts where the cycles change. Where they do so clearly
// the end is seen, though the speed may not show it.
func (c Cycles) place(cuts []Cut) {
	for i := range cuts {
		c.placeOne(cuts, i)
	}
}

func (c Cycles) placeOne(cuts []Cut, i int) {
	k := &cuts[i]
	if k.Stalled {
		return
	}
	start, end := k.Start, k.End
	from, to := start-outsideReach, end+outsideReach
	if i > 0 {
		from = max(from, cuts[i-1].End+sureAfter)
	}
	if i+1 < len(cuts) {
		to = min(to, cuts[i+1].Start-sureBefore)
	}
	inside := min(sureAfter, k.length()/4) // short cuts have little to spare
	during := c.between(start+inside, end-inside)
	if s, ok := tell(c.between(from, start-sureBefore), during); ok {
		k.Start, k.Seen = c.change(s, start, false), true
	}
	if s, ok := tell(during, c.between(end+sureAfter, to)); ok {
		k.End, k.EndSeen = max(c.change(s, end, true), k.Start+shortestCut), true
	}
}

// endSpread is how well the speed places an end that it shows, s.
const endSpread = 0.3
