package crank

import (
	"fmt"
	"math"
)

// Limits of the sample rate of an analogue trace, in hertz.
const (
	MinTraceRate = 500
	MaxTraceRate = 50_000_000
)

const (
	workingRate  = 125_000 // Hz; faster traces are averaged in blocks down to this
	hysteresis   = 0.22    // share of the swing a signal must pass beyond the middle
	leastSwing   = 0.3     // share of the usual swing below which nothing is an edge
	swingTeeth   = 6       // the swing follows over so many teeth
	middleTeeth  = 12      // and the middle over so many
	slowestTeeth = 0.1     // seconds from one to the next
	noiseTeeth   = 8       // samples from one to the next below which they are noise; a leap ends it
	usualSeconds = 0.5     // the usual swing is remembered this long
	risingFaster = 250     // and follows a larger one so much faster: few marks stand out for a short time
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
	flank             line // since the signal last lay beyond the hysteresis
	resting           bool // it does
	toothSeconds      float64
	decay, middleGain float64

	up, down passages
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
	t.toothSeconds = min(max(tooth, 4*t.dt), slowestTeeth)
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
	l, flank, resting := t.envelope, t.flank, t.resting
	usualGain := t.dt / usualSeconds
	for _, x := range samples {
		if x != x {
			x = l.last
		}
		t.n++
		l.swing(x, t.decay, t.middleGain, usualGain)
		if t.toothSeconds < noiseTeeth*t.dt && l.high-l.low > leap*l.usual {
			t.pace(slowestTeeth)
		}
		reach := l.reach()
		away := x - l.middle // from the side the signal is on
		if !t.above {
			away = -away
		}
		if away >= reach {
			resting = true
		} else {
			if resting {
				flank.restart(float64(t.n-1), l.last)
				resting = false
			}
			flank.add(float64(t.n), x)
			if away < -reach {
				t.flank = flank
				t.above = !t.above
				t.confirm(l.middle)
				resting = true
			}
		}
		l.last = x
	}
	t.flank, t.resting = flank, resting
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
	more := l.high - l.low - l.usual
	if more > 0 {
		usualGain = min(1, usualGain*risingFaster)
	}
	l.usual += usualGain * more
}

// reach is how far beyond the middle the signal must go to be on its other side.
func (l *envelope) reach() float64 {
	swing := l.high - l.low
	if least := leastSwing * 2 * l.usual; swing < least {
		swing = least
	}
	return swing * hysteresis
}

// confirm records the passage that led beyond the hysteresis.
func (t *Trace) confirm(middle float64) {
	at, slope, ok := t.flank.crosses(middle)
	if !ok {
		return
	}
	at = (at - 0.5) * t.dt
	p := &t.down
	if t.above {
		p = &t.up
	}
	swing := t.high - t.low
	if n := len(p.times); n > 0 {
		gap := at - p.times[n-1]
		if gap <= 0 {
			return
		}
		t.pace(t.toothSeconds + 0.2*(min(gap, 3*t.toothSeconds)-t.toothSeconds))
	}
	p.times = append(p.times, at)
	p.slopes = append(p.slopes, float32(slope))
	p.swings = append(p.swings, float32(t.usual))
	p.jumps = append(p.jumps, float32(t.flank.jump.size/swing))
}
