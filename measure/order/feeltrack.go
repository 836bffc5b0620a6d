package order

import (
	"math"
	"slices"
	"sort"
)

// pace is the engine cycle through a recording: where each cycle starts, and
// how well the comb of orders fitted.
type pace struct {
	starts []float64 // s, one more than cycles
	scores []float64 // of the speed track, by cycle
}

// trackMost bounds the hops whose paths are open at a time.
const trackMost = 120

// course is the cycle rate through a recording.
type course struct {
	speeds  []speedAt
	rate    float64 // frames a second
	seconds float64
}

// courseOf finds the cycle rate of a motion: a comb over all half orders and a
// path through time. All axes count alike, however the sensor lies.
func courseOf(m *motion, config Config) course {
	rate := min(m.rate, feelTop)
	rows := m.even(rate)
	window := int(rate * feelWindow)
	hop := max(int(rate*feelHop), 1)
	if len(rows[0]) < window {
		return course{}
	}
	speeds := speedsOf(rows, newFeelComb(config, rate, window), window, hop)
	return course{smoothed(speeds), rate, float64(len(rows[0])-1) / rate}
}

// hz is the cycle rate that nine tenths of the windows stay below.
func (c course) hz() float64 {
	if len(c.speeds) == 0 {
		return 0
	}
	var all []float64
	for _, s := range c.speeds {
		all = append(all, s.hz)
	}
	slices.Sort(all)
	return all[len(all)*9/10]
}

// times is the course at a multiple of its rate, up to some seconds.
func (c course) times(ratio, seconds float64) course {
	out := course{rate: c.rate, seconds: min(c.seconds, seconds)}
	for _, s := range c.speeds {
		if s.frame <= (out.seconds+feelWindow)*c.rate {
			s.hz *= ratio
			out.speeds = append(out.speeds, s)
		}
	}
	return out
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
		if n > 0 {
			tracker.forget(n, path[n-1])
		}
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

// pace cuts the time into cycles.
func (c course) pace() pace {
	p := pace{starts: []float64{0}}
	if len(c.speeds) == 0 {
		return p
	}
	at, i := 0.0, 0
	for {
		for i+1 < len(c.speeds) && c.speeds[i+1].frame <= at {
			i++
		}
		at += c.rate / speedAlong(c.speeds, i, at)
		if at > c.seconds*c.rate {
			return p
		}
		p.starts = append(p.starts, at/c.rate)
		p.scores = append(p.scores, c.speeds[i].score)
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

// at is the first cycle that ends after a time.
func (p pace) at(seconds float64) int {
	return sort.Search(p.cycles(), func(c int) bool { return p.starts[c+1] > seconds })
}
