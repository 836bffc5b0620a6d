package order

import "math"

// At a cut the speed falls by a tenth within half a second, faster than the
// search follows, and the cylinders that are left make another picture. The
// firing order alone keeps its phase whichever cylinders work. So the pace is
// corrected by it in the shortest blocks, once for each number of firings that
// the search may have slipped by; where the true one was assumed, the blocks
// come out in step.
const (
	throughRounds  = 3
	throughBefore  = 0.5  // s before the cut in which the steps are judged
	throughAfter   = 1.5  // and after
	throughRamp    = 0.6  // s over which a slip is spread
	throughTrusted = 0.12 // firings between blocks, up to which the phase was held
)

// slipsTried, in firings.
var slipsTried = []float64{0, -1, 1, -2, 2}

// through corrects a pace across a cut at a moment, and reports whether its phase
// was held: the blocks come out in step, and under no other slip as well.
func (m *motion) through(p pace, firings int, cut float64) (best pace, held bool) {
	var paces []pace
	var left []float64
	first := 0
	for i, s := range slipsTried {
		q, step := m.hold(p.slipped(cut, s/float64(firings)), firings, cut)
		paces, left = append(paces, q), append(left, step)
		if step+slipPrice*math.Abs(s) < left[first]+slipPrice*math.Abs(slipsTried[first]) {
			first = i
		}
	}
	held = left[first] < throughTrusted && firings <= throughMost
	for i, q := range paces {
		if left[i] < max(throughDoubt*left[first], throughClear) && math.Abs(q.apart(paces[first], cut)) > 0.5/float64(firings) {
			held = false
		}
	}
	return paces[first], held
}

// Another slip must come out worse, by this factor and at least with these steps
// in firings.
const (
	throughDoubt = 2.5
	throughClear = 0.06
)

// throughMost firings a cycle: with more, a slip by one or several is so small an
// error of the speed that the blocks come out in step all the same.
const throughMost = 7

const slipPrice = 0.01 // firings: the search is believed where it makes no difference

// apart is by how many cycles two paces of one recording differ after a cut, if
// they agree before.
func (p pace) apart(o pace, cut float64) float64 {
	return p.phase(cut+throughAfter) - o.phase(cut+throughAfter) - p.phase(cut-throughBefore) + o.phase(cut-throughBefore)
}

// phase is the number of cycles at a time.
func (p pace) phase(t float64) float64 {
	c := min(p.at(t), p.cycles()-1)
	if c < 0 {
		return 0
	}
	return float64(c) + (t-p.starts[c])/(p.starts[c+1]-p.starts[c])
}

func (m *motion) hold(p pace, firings int, cut float64) (pace, float64) {
	length := max(int(math.Ceil(leastPer*float64(2*firings+1)*p.hz()/m.rate)), 1)
	var blocks []cycle
	for round := range throughRounds {
		blocks = m.blocks(p, firings, length, firings)
		align(blocks, firings, firings, firings, firings)
		if round < throughRounds-1 {
			p = p.moved(blocks)
		}
	}
	left := 0.0
	for i := 1; i < len(blocks); i++ {
		if at := blocks[i].start; at > cut-throughBefore && at < cut+throughAfter {
			left = max(left, math.Abs(blocks[i].late-blocks[i-1].late)*float64(firings))
		}
	}
	return p.moved(blocks), left
}

// slipped delays what comes after a moment by a part of a cycle.
func (p pace) slipped(at, cycles float64) pace {
	out := pace{append([]float64(nil), p.starts...), p.scores}
	for c, t := range p.starts {
		if t > at {
			part := min((t-at)/throughRamp, 1)
			out.starts[c] += part * cycles / p.hz()
		}
	}
	return out
}
