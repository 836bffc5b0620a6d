package order

import (
	"math"
	"sort"

	"halforder/engine"
)

// pace is the engine cycle through a recording: where each cycle starts, and
// how well the comb of orders fitted.
type pace struct {
	starts []float64 // s, one more than cycles
	scores []float64 // of the speed track, by cycle
}

// trackMost bounds the hops whose paths are open at a time.
const trackMost = 120

// paceOf finds the cycles of a motion: a comb over all half orders, a path
// through time, a lock on the phase. All axes count alike, however the sensor
// lies.
func paceOf(m *motion, config Config) pace {
	rate := min(m.rate, feelTop)
	rows := m.even(rate)
	window := int(rate * feelWindow)
	hop := max(int(rate*hopSeconds), 1)
	if len(rows[0]) < window {
		return pace{}
	}
	speeds := speedsOf(rows, newFeelComb(config, rate, window), window, hop)
	return steps(smoothed(speeds), rate, float64(len(rows[0])-1))
}

// speedsOf gives the cycle rate at the middle of each window.
func speedsOf(rows [3][]float32, comb *feelComb, window, hop int) []speedAt {
	tracker := newTracker(len(comb.hz))
	var pending [][]float64
	var out []speedAt
	decide := func(n int) {
		path := tracker.path()
		for i, scores := range pending[:n] {
			k := path[i]
			out = append(out, speedAt{float64(len(out)*hop) + float64(window)/2,
				comb.hz[k] * (1 + gridStep*peak(scores, k)), scores[k] - comb.prior[k]})
		}
		tracker.forget(n)
		pending = append([][]float64(nil), pending[n:]...)
	}
	views := make([][]float32, len(rows))
	for at := 0; at+window <= len(rows[0]); at += hop {
		for a, row := range rows {
			views[a] = row[at : at+window]
		}
		scores := append([]float64(nil), comb.score(views)...)
		pending = append(pending, scores)
		tracker.add(scores)
		if len(pending) > trackMost {
			decide(trackMost / 2)
		}
	}
	decide(len(pending))
	return out
}

// steps cuts the time into cycles along the speeds.
func steps(speeds []speedAt, rate, frames float64) pace {
	p := pace{starts: []float64{0}}
	at, i := 0.0, 0
	for {
		for i+1 < len(speeds) && speeds[i+1].frame <= at {
			i++
		}
		at += rate / speedAlong(speeds, i, at)
		if at > frames {
			return p
		}
		p.starts = append(p.starts, at/rate)
		p.scores = append(p.scores, speeds[i].score)
	}
}

// smoothed averages each speed with its neighbours, across which it cannot jump.
func smoothed(speeds []speedAt) []speedAt {
	out := append([]speedAt(nil), speeds...)
	for i := 1; i+1 < len(speeds); i++ {
		a, b, c := speeds[i-1].hz, speeds[i].hz, speeds[i+1].hz
		if math.Abs(a/b-1) < smoothStep && math.Abs(c/b-1) < smoothStep {
			out[i].hz = (a + 2*b + c) / 4
		}
	}
	return out
}

// smoothStep is the change of speed from window to window up to which it is
// taken for the error of the search.
const smoothStep = 0.03

// speedAlong interpolates the cycle rate after speed i.
func speedAlong(speeds []speedAt, i int, frame float64) float64 {
	a := speeds[i]
	if i+1 == len(speeds) || frame < a.frame {
		return a.hz
	}
	b := speeds[i+1]
	return a.hz + (b.hz-a.hz)*(frame-a.frame)/(b.frame-a.frame)
}

// moved shifts the cycles by how late the blocks are, between whose middles it
// interpolates.
func (p pace) moved(blocks []cycle) pace {
	out := pace{append([]float64(nil), p.starts...), p.scores}
	i := 0
	for c, t := range p.starts {
		for i+1 < len(blocks) && middle(blocks[i+1]) <= t {
			i++
		}
		if len(blocks) == 0 {
			break
		}
		late := blocks[i].late / blocks[i].hz
		if i+1 < len(blocks) && t > middle(blocks[i]) {
			part := (t - middle(blocks[i])) / (middle(blocks[i+1]) - middle(blocks[i]))
			late += (blocks[i+1].late/blocks[i+1].hz - late) * part
		}
		out.starts[c] += late
		if c > 0 {
			out.starts[c] = max(out.starts[c], out.starts[c-1]+leastCycle*(p.starts[c]-p.starts[c-1]))
		}
	}
	return out
}

// leastCycle is the share of a cycle's length that a correction leaves at least.
const leastCycle = 0.5

func middle(c cycle) float64 { return c.start + c.seconds/2 }

// cycles is how many whole ones there are.
func (p pace) cycles() int { return len(p.scores) }

// hz is the usual cycle rate.
func (p pace) hz() float64 {
	if p.cycles() == 0 {
		return 0
	}
	return float64(p.cycles()) / (p.starts[p.cycles()] - p.starts[0])
}

// rpm of cycle c.
func (p pace) rpm(c int) engine.RPM { return engine.FromCycleHz(1 / (p.starts[c+1] - p.starts[c])) }

// at is the first cycle that ends after a time.
func (p pace) at(seconds float64) int {
	return sort.Search(p.cycles(), func(c int) bool { return p.starts[c+1] > seconds })
}
