package crank

import (
	"errors"
	"math"
	"sort"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"halforder/engine"
)

// window is how many firings before and after the one weighed a weigher looks
// at, and which scatter of theirs it prepares for.
type window struct {
	before, after int
	scatter       float64 // share of the full work
}

// windows are tried in turn until a firing can be weighed well enough. Short
// ones follow speed and road best; the scatter prepared for leaves rare misses
// beside the one weighed little influence. The faster the engine and the more
// cylinders it has, the less a firing moves the crank against the jitter of an
// edge: then more marks must speak, and less may be kept out.
var windows = []window{{3, 4, 0.25}, {3, 4, 0.1}, {6, 8, 0.1}, {10, 12, 0.1}}

// longWindows are tried besides where a firing is still weighed badly: they pay
// when firings scatter as little as they are taken to, which the recording tells.
var longWindows = []window{{10, 12, 0.05}, {18, 20, 0.1}, {18, 20, 0.05}}

// wellWeighed is a standard deviation of one firing's work, as a share of the
// full work, that needs no better window; widestWindow bounds a window that a
// change of speed leaves no room for, degrees.
const (
	wellWeighed  = 0.12
	widestWindow = 2400
	widestAfter  = 20 // firings, of all windows
)

// weigher turns mark times into the work of one firing position. Taps sum to
// zero against constant, linear and quadratic time (speed, acceleration) and,
// on wheels dense enough, against the firing order itself (compression and
// piston inertia, the same in each firing).
type weigher struct {
	from  int // first mark, counted from the beginning of the cycle; may be negative
	taps  []float64
	sum   float64 // of the taps; nearly zero
	span  float64 // degrees between first and last mark of the window
	top   float64 // top dead centre of the firing, degrees in the cycle
	near  int     // mark at or before top
	sigma float64 // expected scatter of the weight, relative energy
}

// noise says what a weigher must be blind to, both in degrees of crank angle
// respectively relative energy.
type noise struct {
	jitterDeg float64   // scatter of one edge
	spread    float64   // scatter of neighbouring firings' work, relative energy
	stray     float64   // work whose delivery strays, relative energy
	road      roughness // relative energy
}

// roadStep is how finely torque from outside is followed, degrees.
const roadStep = 45.0

// sight is what a weigher of a position sees through a window, whatever the
// noise.
type sight struct {
	weigher // without taps
	shapes  *shapes
}

func newSight(angles, tops []float64, position int, win window) (*sight, error) {
	w := weigher{top: tops[position]}
	lo := firingAt(tops, position-win.before)
	hi := firingAt(tops, position+win.after)
	w.from = markAtOrAfter(angles, lo)
	to := markAtOrAfter(angles, hi)
	w.near = markAtOrAfter(angles, w.top+1e-9) - 1
	var x []float64
	for i := w.from; i < to; i++ {
		x = append(x, markAngle(angles, i))
	}
	if len(x) < 6 {
		return nil, errors.New("too few marks per firing to weigh it")
	}
	w.span = x[len(x)-1] - x[0]
	return &sight{w, newShapes(x, tops, position, win)}, nil
}

// weigherFor is the best linear unbiased estimate of a firing's work relative to
// its neighbours (generalised least squares).
func (s *sight) weigherFor(n noise) (weigher, error) {
	w := s.weigher
	var err error
	w.taps, w.sigma, err = s.shapes.taps(n)
	w.sum = floats.Sum(w.taps)
	return w, err
}

// turnLater is the same weigher for the firing one turn later on a wheel of so
// many marks a cycle.
func (w weigher) turnLater(perCycle int) weigher {
	w.from += perCycle / 2
	w.near += perCycle / 2
	w.top += turnDeg
	return w
}

// markAngle is the angle of mark i of a cycle; i may lie outside the cycle.
func markAngle(angles []float64, i int) float64 {
	m := len(angles)
	c := floorDiv(i, m)
	return angles[i-c*m] + cycleDeg*float64(c)
}

func markAtOrAfter(angles []float64, a float64) int {
	c := int(math.Floor(a / cycleDeg))
	return c*len(angles) + sort.SearchFloat64s(angles, a-cycleDeg*float64(c))
}

// firingAt is the angle of the firing at a position, which may lie outside the
// cycle.
func firingAt(tops []float64, position int) float64 {
	n := len(tops)
	c := floorDiv(position, n)
	return tops[position-c*n] + cycleDeg*float64(c)
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func isCondition(err error) bool {
	var c mat.Condition
	return errors.As(err, &c)
}

func column(x []float64, f func(float64) float64) []float64 {
	out := make([]float64, len(x))
	for i, a := range x {
		out[i] = f(a)
	}
	return out
}

// nuisances are the shapes a weigher must not see.
func nuisances(x, tops []float64, position int, win window) [][]float64 {
	mid := tops[position]
	out := [][]float64{
		column(x, func(float64) float64 { return 1 }),
		column(x, func(a float64) float64 { return a - mid }),
		column(x, func(a float64) float64 { return (a - mid) * (a - mid) }),
	}
	gap := cycleDeg / float64(len(tops))
	if !evenTops(tops) {
		return out
	}
	perFiring := float64(len(x)) / float64(win.before+win.after)
	for q := 1; q <= 3 && float64(q) <= perFiring/3; q++ {
		k := 2 * math.Pi * float64(q) / gap
		out = append(out, column(x, func(a float64) float64 { return math.Cos(k * (a - mid)) }),
			column(x, func(a float64) float64 { return math.Sin(k * (a - mid)) }))
	}
	return out
}

func evenTops(tops []float64) bool {
	gap := cycleDeg / float64(len(tops))
	for k, t := range tops {
		if math.Abs(t-tops[0]-gap*float64(k)) > 0.1 {
			return false
		}
	}
	return true
}

// firing is one firing weighed. There are hundreds of thousands in a long
// recording: small numbers keep them in the processor's reach.
type firing struct {
	at   float64 // seconds, its top dead centre
	rpm  float32
	work float32 // relative to its neighbours, in units of the crank's energy there

	// Work above (below) a working cylinder's, in full works of that speed: as
	// measured, and freed from the echoes of misses nearby.
	raw, excess float32
	loss        float32 // excess of the round before, when that is far beyond a full miss; else 0

	cycle int32 // counted from the beginning of the recording
	slot  int16 // firing position
	bin   int16 // speed bin
	whole bool  // no mark of its window was filled in, no edge of a stretch nearby
	miss  bool
	take  bool // of the round: will be a miss
}

// weigh applies the weigher to the cycle that begins at t[base]; ok is false
// where the window reaches outside.
func (w *weigher) weigh(t []float64, base int) (f firing, ok bool) {
	lo := base + w.from
	hi := lo + len(w.taps)
	if lo < 0 || hi > len(t) || base+w.near+1 >= len(t) || base+w.near < 0 {
		return f, false
	}
	win := t[lo:hi]
	t0 := win[0]
	late := w.late(win, t0)
	slowness := (win[len(win)-1] - t0) / w.span
	f.work = float32(late / slowness)
	f.rpm = float32(1 / (6 * slowness))
	f.at = t[base+w.near]
	return f, true
}

// smallTime is up to which time in seconds products of times lose nothing that
// matters: 1e-6 degrees.
const smallTime = 1e5

// late is Σ taps·(times − t0).
func (w *weigher) late(times []float64, t0 float64) (sum float64) {
	if math.Abs(t0) < smallTime {
		return floats.Dot(w.taps, times) - w.sum*t0
	}
	for i, tap := range w.taps {
		sum += tap * (times[i] - t0)
	}
	return sum
}

// topsOf places the firings of a layout in the cycle, the first of the firing
// order at zero, sorted; order[k] is the firing position of the k-th.
func topsOf(l engine.Layout, zero float64) (tops []float64, order []int) {
	angles := l.Angles()
	for k := range angles {
		order = append(order, k)
	}
	sort.SliceStable(order, func(i, j int) bool {
		return wrapCycle(float64(angles[order[i]])+zero) < wrapCycle(float64(angles[order[j]])+zero)
	})
	for _, k := range order {
		tops = append(tops, wrapCycle(float64(angles[k])+zero))
	}
	return tops, order
}
