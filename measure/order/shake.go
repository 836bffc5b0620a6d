package order

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// Shake is what a motion sensor felt at a moment: acceleration along three axes
// of any orientation, in any unit.
type Shake struct {
	Seconds float64
	Axes    [3]float64
}

// motion is a recording of a motion sensor, put in order: times ascend from 0,
// none comes twice, and the means, gravity among them, are taken off.
type motion struct {
	t       []float64 // s
	x       [3][]float64
	rate    float64 // usual samples a second
	dropped int     // samples that came twice
	gaps    int
	rms     float64 // of the motion, over the three axes
}

// gapSteps is how many usual steps without a sample make a gap.
const gapSteps = 4

var errNoMotion = errors.New("no motion given: expected times and accelerations along three axes")

// newMotion sorts the samples and drops those that come twice: with the time of
// another, or unchanged along all axes, as a sensor gives that is asked more
// often than it measures.
func newMotion(shakes []Shake) (*motion, error) {
	if len(shakes) == 0 {
		return nil, errNoMotion
	}
	for _, s := range shakes {
		for _, v := range [4]float64{s.Seconds, s.Axes[0], s.Axes[1], s.Axes[2]} {
			if math.IsNaN(v) || math.Abs(v) > 1e15 {
				return nil, errors.New("the motion holds values that are no numbers: record again, or remove those lines")
			}
		}
	}
	byTime := func(a, b Shake) int { return cmp.Compare(a.Seconds, b.Seconds) }
	if !slices.IsSortedFunc(shakes, byTime) {
		shakes = slices.Clone(shakes)
		slices.SortStableFunc(shakes, byTime)
	}
	m := &motion{}
	for i, s := range shakes {
		if i > 0 && (s.Seconds == shakes[i-1].Seconds || s.Axes == shakes[i-1].Axes) {
			m.dropped++
			continue
		}
		m.t = append(m.t, s.Seconds-shakes[0].Seconds)
		for a, v := range s.Axes {
			m.x[a] = append(m.x[a], v)
		}
	}
	m.settle()
	return m, nil
}

// settle finds the usual rate and the gaps, and takes the means off.
func (m *motion) settle() {
	steps := make([]float64, 0, len(m.t))
	for i := 1; i < len(m.t); i++ {
		steps = append(steps, m.t[i]-m.t[i-1])
	}
	if len(steps) > 0 {
		usual := median(slices.Clone(steps))
		m.rate = 1 / usual
		for _, s := range steps {
			if s > gapSteps*usual {
				m.gaps++
			}
		}
	}
	var squares float64
	for _, row := range m.x {
		mean := mean(row)
		for i := range row {
			row[i] -= mean
			squares += row[i] * row[i]
		}
	}
	m.rms = math.Sqrt(squares / float64(len(m.t)))
}

// seconds is the time from the first to the last sample.
func (m *motion) seconds() float64 { return m.t[len(m.t)-1] }

// even reads the motion at a steady rate, between neighbours in time, nothing
// in gaps. It serves the search of the speed only; strengths are fitted to the
// samples themselves.
func (m *motion) even(rate float64) [3][]float32 {
	n := int(m.seconds()*rate) + 1
	var out [3][]float32
	for a := range out {
		out[a] = make([]float32, n)
	}
	gap := gapSteps / m.rate
	at := 0
	for i := range n {
		t := float64(i) / rate
		for at+2 < len(m.t) && m.t[at+1] <= t {
			at++
		}
		step := m.t[at+1] - m.t[at]
		if step > gap {
			continue
		}
		part := (t - m.t[at]) / step
		for a, row := range m.x {
			out[a][i] = float32(row[at] + (row[at+1]-row[at])*part)
		}
	}
	return out
}
