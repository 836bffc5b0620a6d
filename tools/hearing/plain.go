package main

import (
	"math"
	"math/rand/v2"
	"slices"

	"halforder/engine"
)

// plain is an engine sound that shares nothing with the practice engine: every
// firing is the same stroke through the same unknown path (a few resonances and
// a band of hiss), then a phone's bass cut and noise. Its speed wanders and
// falls at the cut. All that the names need is in it and nothing else.
type plain struct {
	layout  engine.Layout
	rng     *rand.Rand
	rate    float64
	work    []float64 // by firing position
	cut     int       // firing position
	from    float64   // s, of the cut; none where to is 0
	to      float64
	seconds float64
	miss    []float64    // chance to miss by firing position, nil: none
	missed  map[int]bool // the cycles in which one was missing, from 0
	bursts  []burst      // outside which none misses; nil: always

	idle, fall, slump float64 // rpm, share of the speed lost, s in which it is lost
	catch             float64 // share of the loss the idle control wins back
	wander            [3]tone // of the speed
	gain              float64 // how much harder the others work meanwhile
	spread            float64 // of a firing's strength
	rest              float64 // what is heard of a cylinder without fire
	paths             []way   // by firing position
	modes             []mode
	bass              float64 // Hz, where the phone cuts
	noise             float64 // against the sound
	jolts             float64 // of the time between firings, ratio
	clicks            []way   // of the valve gear, by firing position, late by a share of a cycle; nil: none
}

type tone struct{ size, hz, phase float64 }

// way is what is a cylinder's own on the way to the microphone.
type way struct{ gain, late float64 }

// mode is a resonance, struck by each firing or sounding with its hiss.
type mode struct {
	hz, decay, gain, phase float64
	hiss                   bool
	rigid                  bool // a mass on springs, felt as acceleration
}

var plainRates = []float64{16000, 22050, 44100, 48000}

// newPlain draws an engine, its path and its phone.
func newPlain(layout engine.Layout, seed uint64) *plain {
	rng := rand.New(rand.NewPCG(seed, 41))
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	p := &plain{layout: layout, rng: rng, rate: plainRates[rng.IntN(len(plainRates))], work: make([]float64, layout.N()), seconds: 18,
		idle: between(600, 950), fall: between(0.05, 0.25), slump: between(0.25, 0.6), catch: between(0, 0.8),
		spread: between(0.03, 0.10), rest: between(0, 0.15), bass: between(80, 100), noise: math.Pow(10, between(-1.2, -0.4)), jolts: between(0.002, 0.008)}
	for k := range p.work {
		p.work[k] = 1
		p.paths = append(p.paths, way{1 + 0.04*rng.NormFloat64(), 0.0005 * rng.NormFloat64()})
	}
	total := between(0.01, 0.15)
	for i := range p.wander {
		p.wander[i] = tone{total * between(0.1, 0.6), between(0.08, 0.5), between(0, 2*math.Pi)}
	}
	for range 3 + rng.IntN(4) {
		p.modes = append(p.modes, mode{hz: 30 * math.Pow(2, between(0, 4)), decay: between(0.004, 0.03), gain: between(0.2, 1), phase: between(0, 2*math.Pi)})
	}
	for range 2 + rng.IntN(3) {
		p.modes = append(p.modes, mode{hz: 500 * math.Pow(2, between(0, 3)), decay: between(0.002, 0.01), gain: between(0.05, 0.4), phase: between(0, 2*math.Pi), hiss: rng.IntN(2) == 0})
	}
	return p
}

// unplug cuts the cylinder at a place in the firing order.
func (p *plain) unplug(cut int, from, to float64) {
	p.cut, p.from, p.to = cut, from, to
	var all float64
	for _, w := range p.work {
		all += w
	}
	p.gain = 1 + p.rng.Float64()*(min(all/max(all-p.work[cut], 1), 1.6)-1)
	p.fall *= p.work[cut]
}

// speed in rpm at a time.
func (p *plain) speed(t float64) float64 {
	v := 1.0
	for _, w := range p.wander {
		v += w.size * math.Sin(2*math.Pi*w.hz*t+w.phase)
	}
	drop := 0.0
	if p.to > 0 && t > p.from {
		since := min(t, p.to) - p.from
		drop = p.fall * (min(since/p.slump, 1) - p.catch*(1-math.Exp(-since/2)))
	}
	if p.to > 0 && t > p.to {
		drop *= math.Exp(-(t - p.to) / 0.4)
	}
	return p.idle * v * (1 - drop)
}

// sound plays it all.
func (p *plain) sound() []float32 {
	x := make([]float64, int(p.rate*p.seconds))
	const step = 0.0005
	place, angles := 0.0, p.layout.Angles() // cycles
	for t := 0.02; t < p.seconds; t += step {
		next := place + p.speed(t)/120*step
		for k, a := range angles {
			at := float64(a) / 720
			if whole := math.Floor(next - at); whole > math.Floor(place-at) {
				then := t + step*(whole+at-place)/(next-place) + p.jolts*p.rng.NormFloat64()*60/p.idle
				p.fire(x, k, then, p.misses(k, int(whole), then))
				p.click(x, k, then)
			}
		}
		place = next
	}
	return p.phone(x)
}

// burst is a time in which it misses, s.
type burst struct{ from, to float64 }

// misses draws whether a firing of a cycle is missing, and notes it.
func (p *plain) misses(k, cycle int, t float64) bool {
	if p.miss == nil || p.rng.Float64() >= p.miss[k] {
		return false
	}
	if p.bursts != nil && !slices.ContainsFunc(p.bursts, func(b burst) bool { return b.from <= t && t < b.to }) {
		return false
	}
	p.missed[cycle] = true
	return true
}

// clickDecay is how long a closing valve rings, s.
const clickDecay = 0.002

// click adds the valve that closes at the place of a firing, whether that fires
// or not.
func (p *plain) click(x []float64, k int, t float64) {
	if p.clicks == nil {
		return
	}
	from := int((t + p.clicks[k].late*120/p.speed(t)) * p.rate)
	for i := range int(6 * clickDecay * p.rate) {
		if from+i >= 0 && from+i < len(x) {
			x[from+i] += p.clicks[k].gain * math.Exp(-float64(i)/(clickDecay*p.rate)) * p.rng.NormFloat64()
		}
	}
}

// fire adds the stroke of a firing, or what is heard without it.
func (p *plain) fire(x []float64, k int, t float64, missing bool) {
	w := p.work[k]
	if missing {
		w = 0
	}
	if p.to > 0 && t > p.from && t < p.to {
		w *= p.gain
		if k == p.cut {
			w = 0
		}
	}
	w = max(w, p.rest) * p.paths[k].gain * (1 + p.spread*p.rng.NormFloat64())
	from := int((t + p.paths[k].late) * p.rate)
	for _, m := range p.modes {
		for i := range int(6 * m.decay * p.rate) {
			if from+i < 0 || from+i >= len(x) {
				break
			}
			s := float64(i) / p.rate
			v := w * m.gain * m.at(s)
			if m.hiss {
				v *= p.rng.NormFloat64()
			}
			x[from+i] += v
		}
	}
}

// push is how long a firing pushes a mass, s.
const push = 0.015

// at is what is heard or felt s seconds after a stroke.
func (m mode) at(s float64) float64 {
	ring, omega := math.Exp(-s/m.decay), 2*math.Pi*m.hz
	if !m.rigid {
		return ring * math.Sin(omega*s+m.phase)
	}
	back := ring * ((1/(m.decay*m.decay)-omega*omega)*math.Sin(omega*s) - 2*omega/m.decay*math.Cos(omega*s)) / (omega * omega)
	if s < push {
		back += (1 - math.Cos(2*math.Pi*s/push)) / (push * omega)
	}
	return back
}

// phone cuts the bass twice, adds noise and levels the whole.
func (p *plain) phone(x []float64) []float32 {
	for range 2 {
		a, low := 1-math.Exp(-2*math.Pi*p.bass/p.rate), 0.0
		for i, v := range x {
			low += a * (v - low)
			x[i] = v - low
		}
	}
	var power, top float64
	for _, v := range x {
		power += v * v / float64(len(x))
	}
	hiss := p.noise * math.Sqrt(power)
	for i := range x {
		x[i] += hiss * p.rng.NormFloat64()
		top = max(top, math.Abs(x[i]))
	}
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(0.7 * v / top)
	}
	return out
}
