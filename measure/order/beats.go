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
	seeker := newBeatSeeker(g, 1+firings)
	for round := 1; ; round++ {
		shapes := append([]beatShape{fires}, quiets...)
		if round == 1 {
			begins = seeker.everywhere(shapes)
		} else {
			begins = seeker.near(shapes, begins)
		}
		loud, soft := seeker.gains[0], seeker.gains[1:]
		if round == beatRounds {
			return g.cutUp(begins, loud, soft, units*firings)
		}
		fires, quiets = g.learn(begins, loud, soft, quiets)
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
