package crank

import (
	"fmt"
	"math"
	"slices"
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

type passages struct {
	times  []float64
	slopes []float32 // as steep as the flank was, any unit
	swings []float32 // the usual swing there
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
	l, flank, resting := t.envelope, t.flank, t.resting
	usualGain := t.dt / usualSeconds
	for _, x := range samples {
		if x != x {
			x = l.last
		}
		t.n++
		l.swing(x, t.decay, t.middleGain, usualGain)
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

// line is a straight line through samples, by least squares. Noise makes a slow
// flank cross the middle several times; the line crosses it once.
type line struct {
	origin         float64 // number of the first sample
	n, x, y        float64 // sums, of numbers from the origin on
	xx, xy         float64
	firstY, latest float64
}

// restart begins anew with one sample.
func (l *line) restart(at, y float64) {
	*l = line{origin: at, n: 1, y: y, firstY: y, latest: y}
}

func (l *line) add(at, y float64) {
	x := at - l.origin
	l.n++
	l.x += x
	l.y += y
	l.xx += x * x
	l.xy += x * y
	l.latest = y
}

// crosses is where the line passes a level, in sample numbers within those it
// was laid through, and its slope per sample; ok is false without a slope.
func (l *line) crosses(level float64) (at, slope float64, ok bool) {
	spread := l.xx - l.x*l.x/l.n
	if !(l.n >= 2 && spread > 0) {
		return 0, 0, false
	}
	slope = (l.xy - l.x*l.y/l.n) / spread
	if slope == 0 || (slope > 0) != (l.latest > l.firstY) { // it wandered: from end to end
		slope = (l.latest - l.firstY) / (l.n - 1)
	}
	x := l.x/l.n + (level-l.y/l.n)/slope
	if !(math.Abs(x) < 1e12) {
		return 0, 0, false
	}
	return l.origin + min(max(x, 0), l.n-1), math.Abs(slope), true
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
}

// Noise before the engine turns has a swing below faint of that of the teeth,
// which leaps by leap where they begin.
const (
	faint = 0.2
	leap  = 3
)

// sinceTurning leaves out the noise before the engine turns.
func (p passages) sinceTurning() passages {
	enough := faint * float32(median32(p.swings))
	from := 0
	for i := 0; i+4 < len(p.swings) && p.swings[i] < enough; i++ {
		if p.swings[i+4] > leap*p.swings[i] {
			from = i + 1
		}
	}
	return passages{p.times[from:], p.slopes[from:], p.swings[from:]}
}

// Between two teeth the signal of an inductive sensor swings back almost as
// steeply as it fell, but over a gap slowly and at no certain place: a kind of
// passage of which a larger share, by shallowShare, is less than shallow as
// steep as those around it is not that of the teeth. Else steeper is how much
// steeper it must be to be preferred, evener how much evener.
const (
	shallow      = 0.6
	shallowShare = 0.006
	steeper      = 1.25
	muchSteeper  = 2
	evener       = 1.3
)

// Edges are the times of the teeth in seconds from the first sample; falling
// tells that they are those of the falling passages.
func (t *Trace) Edges() (times []float64, falling bool, err error) {
	up, down := t.up.sinceTurning(), t.down.sinceTurning()
	if len(up.times) < 8 && len(down.times) < 8 {
		return nil, false, fmt.Errorf("no teeth in %.3g s of trace: the signal hardly moves or never settles", float64(t.n)*t.dt)
	}
	if downBetter(up, down) {
		return down.times, true, nil
	}
	return up.times, false, nil
}

// downBetter reports whether the falling passages are those of the teeth. Of two
// that are alike the rising ones are taken, always.
func downBetter(up, down passages) bool {
	a, b := median32(up.slopes), median32(down.slopes)
	offUp, offDown := up.shallows(), down.shallows()
	switch {
	case len(up.times) < 8 || len(down.times) < 8:
		return len(down.times) > len(up.times)
	case a > muchSteeper*b:
		return false
	case b > muchSteeper*a:
		return true
	case math.Abs(offUp-offDown) > shallowShare:
		return offDown < offUp
	case a > steeper*b:
		return false
	case b > steeper*a:
		return true
	}
	return evener*unevenness(down.times) < unevenness(up.times)
}

// shallows is the share of passages that are much less steep than those around.
func (p passages) shallows() float64 {
	const around = 4
	count, n := 0, 0
	for i := around; i+around < len(p.slopes) && n < 20000; i++ {
		n++
		if s := p.slopes[i-around : i+around+1]; float64(p.slopes[i]) < shallow*median32(s) {
			count++
		}
	}
	return float64(count) / float64(max(1, n))
}

func median32(v []float32) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return float64(s[len(s)/2])
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
