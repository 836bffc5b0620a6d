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
	gains        envelopeGains
	last         float64 // working sample
	above        bool
	flank        line // since the signal last lay beyond the hysteresis
	resting      bool // it does
	toothSeconds float64

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
		if t.count > 0 {
			samples = t.begin(samples)
			if t.count < t.block {
				return
			}
			piece[0], n = t.sum, 1
			t.sum, t.count = 0, 0
		}
		whole := min(len(piece)-n, len(samples)/t.block)
		totals(piece[n:n+whole], samples, t.block)
		samples = samples[whole*t.block:]
		if n += whole; n < len(piece) {
			samples = t.begin(samples)
		}
		for i := range piece[:n] {
			piece[i] /= float64(t.block)
		}
		t.follow(piece[:n])
	}
}

// begin takes samples into an unfinished block and returns the others.
func (t *Trace) begin(samples []float32) []float32 {
	take := min(t.block-t.count, len(samples))
	var sum [1]float64
	totals(sum[:], samples, take)
	t.sum += sum[0]
	t.count += take
	return samples[take:]
}

// totals adds up blocks of samples, each in four strands that the processor runs
// side by side.
func totals(dst []float64, samples []float32, block int) {
	for i := range dst {
		v := samples[i*block:][:block]
		var a, b, c, d float32
		for ; len(v) >= 4; v = v[4:] {
			four := (*[4]float32)(v)
			a, b, c, d = a+four[0], b+four[1], c+four[2], d+four[3]
		}
		for _, x := range v {
			a += x
		}
		dst[i] = float64(a + b + (c + d))
	}
}

// pace sets how fast swing and middle follow, for teeth so far apart.
func (t *Trace) pace(tooth float64) {
	t.toothSeconds = min(max(tooth, 4*t.dt), slowestTeeth)
	t.gains.decay = t.dt / (swingTeeth * t.toothSeconds)
	t.gains.middle = t.dt / (middleTeeth * t.toothSeconds)
	t.gains.usual = t.dt / usualSeconds
	t.gains.rising = min(1, t.gains.usual*risingFaster)
}

// follow takes working samples: swing and middle follow the signal, and passages
// through the middle count once it has gone far enough beyond.
func (t *Trace) follow(samples []float64) {
	if t.n == 0 && len(samples) > 0 && !math.IsNaN(samples[0]) {
		x := samples[0]
		t.envelope, t.last = envelope{high: x, low: x, middle: x}, x
	}
	e, last, flank, resting := t.envelope, t.last, t.flank, t.resting // all in registers but for the flank
	for _, x := range samples {
		if x != x {
			x = last
		}
		t.n++
		e = e.swung(x, t.gains.decay).settled(&t.gains)
		if t.toothSeconds < noiseTeeth*t.dt && e.high-e.low > leap*e.usual {
			t.pace(slowestTeeth)
		}
		reach := e.reach()
		away := x - e.middle // from the side the signal is on
		if !t.above {
			away = -away
		}
		if away >= reach {
			resting = true
		} else {
			if resting {
				flank.restart(float64(t.n-1), last)
				resting = false
			}
			flank.add(float64(t.n), x)
			if away < -reach {
				t.flank = flank
				t.above = !t.above
				t.confirm(e.middle)
				resting = true
			}
		}
		last = x
	}
	t.flank, t.resting = flank, resting
	t.envelope, t.last = e, last
}

// envelope is how high the signal swings and where its middle lies.
type envelope struct{ high, low, middle, usual float64 }

// envelopeGains are the shares by which it follows in a sample.
type envelopeGains struct{ decay, middle, usual, rising float64 }

// swung takes a sample into high and low.
func (e envelope) swung(x, decay float64) envelope {
	fade := decay * (e.high - e.low)
	e.high -= fade
	e.low += fade
	if x > e.high {
		e.high = x
	}
	if x < e.low {
		e.low = x
	}
	return e
}

// settled lets the middle and the usual swing follow.
func (e envelope) settled(by *envelopeGains) envelope {
	e.middle += by.middle * ((e.high+e.low)/2 - e.middle)
	gain, more := by.usual, e.high-e.low-e.usual
	if more > 0 {
		gain = by.rising
	}
	e.usual += gain * more
	return e
}

// reach is how far beyond the middle the signal must go to be on its other side.
func (e envelope) reach() float64 {
	swing := e.high - e.low
	if least := leastSwing * 2 * e.usual; swing < least {
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
