package crank

import (
	"fmt"
	"math"
)

// Limits of the sample rate of an analogue trace, in hertz.
const (
	MinTraceRate = 2_000
	MaxTraceRate = 50_000_000
)

const (
	workingRate  = 125_000 // Hz; faster traces are averaged in blocks down to this
	hysteresis   = 0.22    // share of the swing a signal must pass beyond the middle
	leastSwing   = 0.3     // share of the usual swing below which nothing is an edge
	swingTeeth   = 6       // the swing follows over so many teeth
	middleTeeth  = 12      // and the middle over so many
	usualSeconds = 0.5     // the usual swing is remembered this long
)

// Trace finds the edges of an analogue sensor signal, pushed block by block:
// inductive or Hall, either polarity, direct or through the coupling capacitor
// of a sound card. Both the rising and the falling passages through the middle
// are kept; Edges chooses the better.
type Trace struct {
	dt    float64 // seconds per working sample
	block int     // samples averaged into one
	sum   float64
	count int
	n     int64 // working samples seen

	envelope
	above             bool
	crossing, slope   float64 // the latest passage, not yet confirmed
	crossed           bool
	toothSeconds      float64
	decay, middleGain float64

	up, down passages
}

type passages struct {
	times  []float64
	slopes float64
}

// NewTrace prepares for samples at rate hertz.
func NewTrace(rate float64) (*Trace, error) {
	if !(rate >= MinTraceRate && rate <= MaxTraceRate) {
		return nil, fmt.Errorf("a trace of %g samples a second cannot be used: expected %d to %d", rate, MinTraceRate, MaxTraceRate)
	}
	block := max(1, int(rate/workingRate))
	t := &Trace{block: block, dt: float64(block) / rate}
	t.pace(0.01)
	return t, nil
}

// Push takes the next samples; their unit does not matter. NaN counts as no
// change.
func (t *Trace) Push(samples []float32) {
	var piece [512]float64
	for len(samples) > 0 {
		n := 0
		for n < len(piece) && len(samples) > 0 {
			take := min(t.block-t.count, len(samples))
			t.sum += float64(total(samples[:take]))
			samples = samples[take:]
			if t.count += take; t.count == t.block {
				piece[n] = t.sum / float64(t.block)
				t.sum, t.count = 0, 0
				n++
			}
		}
		t.follow(piece[:n])
	}
}

// total adds in four strands that the processor runs side by side.
func total(v []float32) float32 {
	var a, b, c, d float32
	for len(v) >= 4 {
		a, b, c, d = a+v[0], b+v[1], c+v[2], d+v[3]
		v = v[4:]
	}
	for _, x := range v {
		a += x
	}
	return a + b + (c + d)
}

// pace sets how fast swing and middle follow, for teeth so far apart.
func (t *Trace) pace(tooth float64) {
	t.toothSeconds = min(max(tooth, 4*t.dt), 0.1)
	t.decay = t.dt / (swingTeeth * t.toothSeconds)
	t.middleGain = t.dt / (middleTeeth * t.toothSeconds)
}

// follow takes working samples: swing and middle follow the signal, and passages
// through the middle count once it has gone far enough beyond.
func (t *Trace) follow(samples []float64) {
	if t.n == 0 && len(samples) > 0 && !math.IsNaN(samples[0]) {
		x := samples[0]
		t.high, t.low, t.middle, t.last = x, x, x, x
	}
	l := t.envelope
	usualGain := t.dt / usualSeconds
	for _, x := range samples {
		if x != x {
			x = l.last
		}
		t.n++
		l.swing(x, t.decay, t.middleGain, usualGain)
		if (x > l.middle) != (l.last > l.middle) && x != l.last {
			share := (l.middle - l.last) / (x - l.last)
			t.crossing, t.slope, t.crossed = (float64(t.n-1)+share-0.5)*t.dt, math.Abs(x-l.last), true
		}
		l.last = x
		if l.beyond(x, t.above) {
			t.above = !t.above
			t.confirm()
		}
	}
	t.envelope = l
}

// envelope is how high the signal swings and where its middle lies.
type envelope struct{ high, low, middle, usual, last float64 }

func (l *envelope) swing(x, decay, middleGain, usualGain float64) {
	fade := decay * (l.high - l.low)
	l.high -= fade
	l.low += fade
	if x > l.high {
		l.high = x
	}
	if x < l.low {
		l.low = x
	}
	l.middle += middleGain * ((l.high+l.low)/2 - l.middle)
	l.usual += usualGain * (l.high - l.low - l.usual)
}

// beyond reports whether the signal has left the side it was on by more than
// the hysteresis.
func (l *envelope) beyond(x float64, above bool) bool {
	reach := l.high - l.low
	if least := leastSwing * 2 * l.usual; reach < least {
		reach = least
	}
	reach *= hysteresis
	return !above && x > l.middle+reach || above && x < l.middle-reach
}

// confirm records the passage that led beyond the hysteresis.
func (t *Trace) confirm() {
	if !t.crossed {
		return
	}
	t.crossed = false
	p := &t.down
	if t.above {
		p = &t.up
	}
	if n := len(p.times); n > 0 {
		if t.crossing <= p.times[n-1] {
			return
		}
		gap := t.crossing - p.times[n-1]
		t.pace(t.toothSeconds + 0.2*(min(gap, 3*t.toothSeconds)-t.toothSeconds))
	}
	p.times = append(p.times, t.crossing)
	p.slopes += t.slope
}

// steeper is how much steeper one kind of passage must be to be preferred: on
// an inductive sensor the tooth passes at the steep one.
const steeper = 1.25

// Edges are the times of the teeth in seconds from the first sample.
func (t *Trace) Edges() ([]float64, error) {
	up, down := t.up, t.down
	if len(up.times) < 8 && len(down.times) < 8 {
		return nil, fmt.Errorf("no teeth in %.3g s of trace: the signal hardly moves or never settles", float64(t.n)*t.dt)
	}
	a, b := up.slopes/float64(max(1, len(up.times))), down.slopes/float64(max(1, len(down.times)))
	switch {
	case a > steeper*b:
		return up.times, nil
	case b > steeper*a:
		return down.times, nil
	case unevenness(up.times) < unevenness(down.times):
		return up.times, nil
	}
	return down.times, nil
}

// unevenness is the mean change from one interval to the next, as a ratio's
// logarithm, without the rarest tenth (gaps).
func unevenness(times []float64) float64 {
	var off []float64
	for i := 2; i < len(times) && len(off) < 20000; i++ {
		off = append(off, math.Abs(math.Log((times[i]-times[i-1])/(times[i-1]-times[i-2]))))
	}
	if len(off) == 0 {
		return math.Inf(1)
	}
	s := sorted64(off)
	total := 0.0
	for _, x := range s[:len(s)*9/10] {
		total += x
	}
	return total / float64(len(s))
}
