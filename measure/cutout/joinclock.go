package cutout

import (
	"fmt"
	"math"
	"slices"
)

// Two clocks are laid together by how the speed changes within riseSeconds, at
// joinStep from each other; they may lie mostLate apart, as when a hand starts
// one recorder and then the other. Judgement: a likeness under leastAlike is
// that of two engines, or of one that nothing happens to; the same start is kept
// where another is not clearlyAlike better, or is less than two steps away.
const (
	joinStep      = 0.1
	riseSeconds   = 1.0
	mostLate      = 60.0
	leastTogether = 20.0 // s
	leastAlike    = 0.4
	clearlyAlike  = 0.05
	alikeSpeed    = 0.1
	rivalApart    = 2.0 // s
	clipAt        = 3.0 // times the median rise
)

// lateness is how much later than a the source of b was started. Both are long
// and fine enough to be read (see Recording.Check).
func lateness(a, b Track) (float64, error) {
	ma, mb := median(slices.Clone(a.Y)), median(slices.Clone(b.Y))
	if math.Abs(ma-mb) > alikeSpeed*math.Max(ma, mb) {
		return 0, fmt.Errorf("shows %.0f rpm where the first shows %.0f: join recordings of the same test only", mb, ma)
	}
	ra, rb := clipped(a.rises()), clipped(b.rises())
	start := b.T[0] - a.T[0]
	together := int(math.Round(start / joinStep)) // steps, where both were started at once
	if math.Abs(start) > mostLate {
		together = 0 // two kinds of clock: the time of day in one of them
	}
	const most = int(mostLate / joinStep)
	alike, best := make([]float64, 2*most+1), 0
	for i := range alike {
		alike[i] = likeness(ra, rb, together+i-most)
		if alike[i] > alike[best] {
			best = i
		}
	}
	switch sameStart := math.Abs(start) <= mostLate && alike[most] >= leastAlike && (alike[best]-alike[most] < clearlyAlike || max(best, most)-min(best, most) < 2); {
	case sameStart:
		return 0, nil
	case alike[best] < leastAlike:
		return 0, fmt.Errorf("its speed does not rise and fall with the first (likeness %.2f, %.2f is needed): join recordings of the same test, with cuts in both", alike[best], leastAlike)
	case alike[best]-rival(alike, best) < clearlyAlike:
		return 0, fmt.Errorf("how its clock lies to the first cannot be told (two ways are as good): start both recorders within a second, or make the pauses between cuts uneven")
	}
	return joinStep*(float64(together+best-most)+topOffset(alike, best)) - start, nil
}

// rival is the best likeness at another place than the best one.
func rival(alike []float64, best int) float64 {
	out := 0.0
	apart := int(rivalApart / joinStep)
	for i, v := range alike {
		if i < best-apart || i > best+apart {
			out = math.Max(out, v)
		}
	}
	return out
}

// topOffset is where the top of a parabola through three values lies, steps
// from the middle one.
func topOffset(y []float64, i int) float64 {
	if i == 0 || i+1 >= len(y) {
		return 0
	}
	bend := y[i-1] - 2*y[i] + y[i+1]
	if !(bend < 0) {
		return 0
	}
	return math.Max(-0.5, math.Min(0.5, (y[i-1]-y[i+1])/(2*bend)))
}

// rises are the changes of speed within riseSeconds, joinStep apart from the
// first sample on.
func (t Track) rises() []float64 {
	n := int((t.T[len(t.T)-1]-t.T[0]-riseSeconds)/joinStep) + 1
	out := make([]float64, max(n, 0))
	before, after := reader{Track: t}, reader{Track: t}
	for i := range out {
		at := t.T[0] + float64(i)*joinStep
		out[i] = after.at(at+riseSeconds) - before.at(at)
	}
	return out
}

// clipped bounds values by how large they usually are: a speed lost in a deep cut
// does not speak for all.
func clipped(x []float64) []float64 {
	size := make([]float64, len(x))
	for i, v := range x {
		size[i] = math.Abs(v)
	}
	most := clipAt * median(size)
	for i, v := range x {
		x[i] = math.Max(-most, math.Min(most, v))
	}
	return x
}

// likeness is the correlation of a with b moved by steps, 0 where they share
// too little time.
func likeness(a, b []float64, steps int) float64 {
	from, to := max(0, steps), min(len(a), len(b)+steps)
	if float64(to-from)*joinStep < math.Min(leastTogether, float64(min(len(a), len(b)))*joinStep/2) {
		return 0
	}
	var ab, aa, bb float64
	for i := from; i < to; i++ {
		x, y := a[i], b[i-steps]
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}
