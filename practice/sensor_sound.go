package practice

// Place is where the microphone is.
type Place string

// The places of a microphone.
const (
	AtTailpipe Place = "tailpipe"
	OverEngine Place = "engine" // over the engine with the bonnet open
)

// SoundSensor is a phone's microphone.
type SoundSensor struct {
	Hz      float64
	Place   Place   // "": over the engine
	Noise   float64 // workshop noise against the engine's loudness at idle; 0: 0.15, negative: none
	Fan     bool    // a fan running nearby
	Gain    bool    // the phone's automatic gain control is on
	BassHz  float64 // where the phone cuts the bass; 0: 90 Hz, negative: a measuring microphone
	Balance float64 // exhaust against block and intake, 0…1; 0: by place
}

// soundMaker turns the flows and knocks of the engine into sound pressure.
//
// Exhaust: each cylinder's flow reaches the tail through its own length of
// pipe; the tail radiates the rate of change of the flow (a monopole) through
// a muffler that takes the treble, and the stream hisses in proportion to the
// flow. Intake: the same with the air drawn. Block: heat release strikes the
// structure like a hammer, valves and injectors tick.
type soundMaker struct {
	tape
	want   SoundSensor
	noise  dice
	pipes  []pipe // by cylinder − 1
	ring   []float64
	head   int
	pulses [3]float64 // last exhaust, intake flow and knock

	muffler, muffler2, hissBand     biquad
	airbox, block, block2, phoneLow biquad
	phoneHigh, room                 biquad
	clank                           float64
	gain, level                     float64
	fan, fanStep                    float64
	exhaustPart, blockPart          float64
	ticking                         float64
	bed                             float64
}

type pipe struct {
	delay int
	gain  float64
}

// Level that gives a healthy idling engine about −20 dB of full scale, and
// corner frequencies: judgement.
const (
	soundScale = 0.075
	hissPart   = 0.55
)

func newSoundMaker(e *Engine, want SoundSensor) *soundMaker {
	hz := want.Hz
	m := &soundMaker{tape: newTape(e, hz, "full scale"), want: want, noise: newDice(e.cfg.Seed, "sound"), gain: 1, ring: make([]float64, 4096)}
	m.setFilters(hz)
	m.setPipes(e, newDice(e.cfg.Seed, "pipes"))
	m.exhaustPart, m.blockPart = 0.45, 0.7
	if want.Place == AtTailpipe {
		m.exhaustPart, m.blockPart = 1.3, 0.08
	}
	if want.Balance > 0 {
		m.exhaustPart, m.blockPart = 1.4*want.Balance, 1.4*(1-want.Balance)
	}
	m.bed = 0.15
	if want.Noise != 0 {
		m.bed = max(want.Noise, 0)
	}
	m.fanStep = 2 * 3.141592653589793 * 187 / hz // 7 blades at 1600 rpm
	return m
}

func (m *soundMaker) setFilters(hz float64) {
	m.muffler, m.muffler2 = lowPass(170, 0.9, hz), lowPass(420, 0.7, hz)
	m.hissBand = bandPass(2400, 0.5, hz)
	m.airbox = lowPass(260, 1.2, hz)
	m.block, m.block2 = bandPass(950, 1.4, hz), bandPass(2100, 1.6, hz)
	bass := m.want.BassHz
	if bass == 0 {
		bass = 90
	}
	m.phoneHigh = highPass(max(bass, 2), 0.7, hz)
	m.phoneLow = lowPass(0.42*hz, 0.7, hz)
	m.room = lowPass(700, 0.6, hz)
}

// setPipes gives each cylinder its path: by its place in the bank, and a
// little of its own.
func (m *soundMaker) setPipes(e *Engine, d dice) {
	const speed = 520.0 // m/s in hot gas
	m.pipes = make([]pipe, e.n)
	for b, bank := range e.cfg.Layout.Banks() {
		for i, c := range bank {
			length := e.cfg.Build.LeadM*float64(i) + 0.35*float64(b)*e.cfg.Build.LeadM/0.09 + 0.02*d.unit()
			m.pipes[c-1] = pipe{int(length / speed * m.want.Hz), 1 + 0.08*clamp(d.normal(), -2, 2)}
		}
	}
}

func (m *soundMaker) step(e *Engine) {
	n := m.due(e.now + e.dt)
	if n == 0 {
		return
	}
	var suck, kick float64
	for _, c := range e.cylinders {
		suck += c.suck
		kick += c.kick
		if c.flow != 0 {
			m.blow(m.pipes[c.no-1], c.flow, n)
		}
		if c.j == c.evo || c.j == c.ivc || c.j == cycle/2+2 {
			m.ticking += 0.5
		}
	}
	from, knockFrom := m.pulses[1], m.pulses[2]
	m.pulses[1], m.pulses[2] = suck, kick
	for i := range n {
		share := float64(i+1) / float64(n)
		m.put(m.sample(from+(suck-from)*share, knockFrom+(kick-knockFrom)*share))
	}
}

// blow adds a cylinder's flow to the next n samples at the tail, later by its
// path.
func (m *soundMaker) blow(p pipe, flow float64, n int) {
	at := m.head + p.delay
	for i := range n {
		m.ring[(at+i)&4095] += flow * p.gain
	}
}

// sample mixes one sample; suck is kg/s drawn, kick J per degree released.
func (m *soundMaker) sample(suck, kick float64) float64 {
	flow := m.ring[m.head&4095]
	m.ring[m.head&4095] = 0
	m.head++
	smooth := m.muffler.pass(flow)
	pulse := (smooth - m.pulses[0]) * m.want.Hz
	m.pulses[0] = smooth
	tail := 0.03*m.muffler2.pass(pulse) + hissPart*m.hissBand.pass(m.noise.hiss()*flow*40)
	box := m.airbox.pass(suck * 25 * (1 + 0.3*m.noise.hiss()))
	hammer := 0.16*kick*(1+0.5*m.noise.hiss()) + m.ticking
	m.ticking *= 0.6
	metal := m.block.pass(hammer) + 0.8*m.block2.pass(hammer)
	x := m.exhaustPart*tail + m.blockPart*(metal+0.5*box) + m.shop()
	return m.phone(x * soundScale)
}

// shop is the noise of the workshop: a murmur, a clank now and then, a fan.
func (m *soundMaker) shop() float64 {
	if m.bed == 0 && !m.want.Fan {
		return 0
	}
	u := m.noise.hiss()
	if u > 3.0 && m.noise.unit() < 0.002 {
		m.clank = 12
	}
	m.clank *= 0.9995
	x := m.bed * (6*m.room.pass(u) + m.clank*0.1*m.noise.hiss())
	if m.want.Fan {
		m.fan += m.fanStep
		if m.fan > 6.283185307179586 {
			m.fan -= 6.283185307179586
		}
		x += 0.5*fastSine(m.fan) + 0.25*m.noise.hiss()
	}
	return x
}

// fastSine is the parabola through the zeros and peaks of a sine: a fan is no
// pure tone either.
func fastSine(x float64) float64 {
	const pi = 3.141592653589793
	if x > pi {
		return -4 / (pi * pi) * (x - pi) * (2*pi - x)
	}
	return 4 / (pi * pi) * x * (pi - x)
}

// phone is what the phone makes of it: bass and treble cut, gain control
// (fast down, slow up), clipping, 16 bits.
func (m *soundMaker) phone(x float64) float64 {
	if m.want.BassHz >= 0 {
		x = m.phoneHigh.pass(x)
	}
	x = m.phoneLow.pass(x)
	if m.want.Gain {
		x *= m.gain
		power := x * x
		if power > m.level {
			m.level += (power - m.level) * (20 / m.want.Hz)
		} else {
			m.level += (power - m.level) * (1.5 / m.want.Hz)
		}
		switch {
		case m.level > 0.04:
			m.gain *= 1 - 8/m.want.Hz
		case m.level < 0.015 && m.gain < 30:
			m.gain *= 1 + 1/m.want.Hz
		}
	}
	return float64(int(clamp(x, -1, 32767.0/32768)*32768)) / 32768
}
