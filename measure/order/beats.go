package order

import (
	"math"

	"halforder/engine"
)

const (
	beatRounds = 3
	beatNear   = 3   // points to each side in which the second and third round look
	quietPrior = 0.1 // chance that a firing is quiet
)

// unitOf is the smallest part of the cycle after which the firing intervals
// repeat: how many there are in a cycle, and how many firings each has.
func unitOf(layout engine.Layout) (units, firings int) {
	n := layout.N()
	for f := 1; f < n; f++ {
		same := n%f == 0
		for k := range n {
			same = same && layout.Interval(k) == layout.Interval((k+f)%n)
		}
		if same {
			return n / f, f
		}
	}
	return 1, n
}

// beatRun is a tape cut into its firings.
type beatRun struct {
	grid   beatGrid
	n      int       // firings of a cycle
	begins []int     // points, by firing
	quiet  []float64 // how much likelier it is quiet than not, ln, by firing

	energy [][]float64 // see energies; nil: not asked for yet
}

// beats finds where each firing begins, whether it is there or missing. What
// repeats is a shape with every firing there, or with one quiet; where they
// stand and what they look like is found in turn.
func (t *tape) beats(layout engine.Layout) beatRun {
	units, firings := unitOf(layout)
	points := pointsOf(firings)
	g, first := t.follow(layout, units, firings*points)
	begins := first.unitsBegin(units, g.unit)
	fires := g.shapeOf(begins)
	quiets := make([]beatShape, firings)
	for f := range quiets {
		quiets[f] = fires.quieter(f*points, (f+1)*points)
	}
	path := newBeatPath(g.unit, len(g.at))
	for round := 1; ; round++ {
		shapes := append([]beatShape{fires}, quiets...)
		var gains [][]int32
		if round == 1 {
			begins, gains = g.seek(path, shapes, g.points())
		} else {
			begins, gains = g.seekNear(path, shapes, begins)
		}
		if round == beatRounds {
			return g.cutUp(begins, gains[0], gains[1:], units*firings)
		}
		fires, quiets = g.learn(begins, gains[0], gains[1:], quiets)
	}
}

// shapeOf is the mean shape of all units.
func (g *beatGrid) shapeOf(begins []int) beatShape {
	weights := make([]float64, len(begins))
	for i := range weights {
		weights[i] = 1
	}
	return g.shapeAt(begins, weights)
}

// seek finds where units begin, at some points only, and how much likelier each
// shape is there.
func (g *beatGrid) seek(path *beatPath, shapes []beatShape, points []int) (begins []int, gains [][]int32) {
	gains = g.gains(shapes, points)
	return path.along(bestOf(gains[0], gains[1:]), points), gains
}

// seekNear looks near where they began before, and everywhere when one wants to
// go farther. Better shapes move hardly any by more than a point.
func (g *beatGrid) seekNear(path *beatPath, shapes []beatShape, before []int) (begins []int, gains [][]int32) {
	var points []int
	next := 0
	for _, at := range before {
		for i := max(next, at-beatNear); i <= min(at+beatNear, len(g.at)-1); i++ {
			points = append(points, i)
			next = i + 1
		}
	}
	begins, gains = g.seek(path, shapes, points)
	if !within(begins, before, beatNear-1) {
		return g.seek(path, shapes, g.points())
	}
	return begins, gains
}

// within reports whether none is farther than reach from all of others; both
// ascend.
func within(x, others []int, reach int) bool {
	k := 0
	for _, v := range x {
		for k < len(others) && others[k] < v-reach {
			k++
		}
		if k == len(others) || others[k] > v+reach {
			return false
		}
	}
	return true
}

// points are all that the grid has.
func (g *beatGrid) points() []int {
	out := make([]int, len(g.at))
	for i := range out {
		out[i] = i
	}
	return out
}

// pointsOf a firing: fewer where many firings make a unit, for the sake of memory.
func pointsOf(firings int) int {
	if firings > 2 {
		return beatPoints / 2
	}
	return beatPoints
}

// unitsBegin gives the points of a grid at which the phase has units begin.
func (b beat) unitsBegin(units, points int) []int {
	var out []int
	for i := 1; i < len(b); i++ {
		for k := math.Ceil(b[i-1] * float64(units)); k < b[i]*float64(units); k++ {
			part := (k/float64(units) - b[i-1]) / (b[i] - b[i-1])
			out = append(out, int((float64(i-1)+part)/beatSteps*float64(units*points)))
		}
	}
	return out
}

// bestOf is at each point the likeliest of all there and one quiet.
func bestOf(loud []int32, soft [][]int32) []int32 {
	out := append([]int32(nil), loud...)
	price := int32(math.Log(quietPrior) * beatGrain)
	for _, s := range soft {
		for i, v := range s {
			out[i] = max(out[i], v+price)
		}
	}
	return out
}

func nats(grains int32) float64 { return float64(grains) / beatGrain }

// learn makes new shapes of where the units begin.
func (g *beatGrid) learn(begins []int, loud []int32, soft [][]int32, quiets []beatShape) (beatShape, []beatShape) {
	there := make([]float64, len(begins))
	missing := make([][]float64, len(quiets))
	for f := range missing {
		missing[f] = make([]float64, len(begins))
	}
	for j, at := range begins {
		sum := 1.0
		for f := range quiets {
			missing[f][j] = quietPrior * math.Exp(min(nats(soft[f][at]-loud[at]), 30))
			sum += missing[f][j]
		}
		there[j] = 1 / sum
		for f := range quiets {
			missing[f][j] /= sum
		}
	}
	out := append([]beatShape(nil), quiets...)
	for f, w := range missing {
		if mean(w)*float64(len(w)) > fewQuiet {
			out[f] = g.shapeAt(begins, w)
		}
	}
	return g.shapeAt(begins, there), out
}

// fewQuiet firings are too few to learn from.
const fewQuiet = 5

// cutUp divides the units into firings.
func (g *beatGrid) cutUp(begins []int, loud []int32, soft [][]int32, n int) beatRun {
	r := beatRun{grid: *g, n: n}
	firings := len(soft)
	for j, at := range begins {
		end := min(at+g.unit, len(g.at)-1)
		if j+1 < len(begins) {
			end = begins[j+1]
		}
		for f := range firings {
			r.begins = append(r.begins, at+(end-at)*f/firings)
			r.quiet = append(r.quiet, nats(soft[f][at]-loud[at]))
		}
	}
	return r
}
