package order

import (
	"math"
	"math/rand/v2"

	"halforder/engine"
)

// mounted is an engine block on mounts of its own choosing, far from the
// practice engine's: three modes in directions of any kind, driven by the
// pulses of the firings, by compression, which a dead cylinder has too, and by
// what turns with the crank.
type mounted struct {
	layout     engine.Layout
	rpm        float64
	seconds    float64
	work       []float64 // by firing position
	cyclic     float64   // spread of the work of one cycle
	wander     float64   // of the speed, ratio
	modes      [3]mode
	unbalance  [2]float64 // of orders 1 and 2, m/s²
	noise      float64    // m/s²
	hz, jitter float64
	bare       bool // the chip filters little: orders above half the rate fold down
	off        func(seconds float64, position int) bool
	seed       uint64
}

type mode struct {
	hz, damping float64
	roll, lift  float64 // how the torque and the unbalance drive it
	along       [3]float64
}

// anyMounted draws the mounts from the usual: 5 to 18 Hz, damping 0.05 to 0.15.
func anyMounted(layout engine.Layout, hz float64, seed uint64) mounted {
	rng := rand.New(rand.NewPCG(seed, 17))
	m := mounted{layout: layout, rpm: 650 + 250*rng.Float64(), seconds: 15, hz: hz, seed: seed,
		cyclic: 0.04 + 0.1*rng.Float64(), wander: 0.03 * rng.Float64(), jitter: 0.02 + 0.1*rng.Float64(),
		noise: 0.01 * math.Exp(2*rng.Float64()), bare: rng.Float64() < 0.3,
		unbalance: [2]float64{0.5 * rng.Float64(), 0.7 * rng.Float64()}}
	for i := range m.modes {
		m.modes[i] = mode{hz: 5 + 13*rng.Float64(), damping: 0.05 + 0.1*rng.Float64(), along: anyWay(rng), roll: 1, lift: 0.3}
		if i > 0 {
			m.modes[i].roll, m.modes[i].lift = 0.4*rng.Float64(), 1
		}
	}
	for range layout.N() {
		m.work = append(m.work, 1+(0.02+0.04*rng.Float64())*rng.NormFloat64())
	}
	return m
}

func anyWay(rng *rand.Rand) (d [3]float64) {
	var square float64
	for i := range d {
		d[i] = rng.NormFloat64()
		square += d[i] * d[i]
	}
	for i := range d {
		d[i] /= math.Sqrt(square)
	}
	return d
}

// torque of one cylinder at degrees after its top dead centre, mean left in.
func torque(deg, work float64) float64 {
	compression := -1.2 * math.Sin(deg*math.Pi/180) * math.Exp(-deg*deg/2/40/40)
	if deg > 0 {
		return compression + work*deg/35*math.Exp(1-deg/35)*2
	}
	return compression
}

func (m mounted) shakes() []Shake {
	const dt = 1.0 / 2000
	rng := rand.New(rand.NewPCG(m.seed, 18))
	angles := m.layout.Angles()
	now := make([]float64, len(angles))
	var place, speed [3]float64
	var low [3]float64
	var out []Shake
	angle, next := 0.0, 0.0
	vary := func(t float64) {
		for k := range now {
			now[k] = m.work[k] * (1 + m.cyclic*rng.NormFloat64())
			if m.off != nil && m.off(t, k) {
				now[k] = 0
			}
		}
	}
	vary(0)
	for t := 0.0; t < m.seconds; t += dt {
		rpm := m.rpm * (1 + m.wander*math.Sin(2*math.Pi*t/5))
		if angle += rpm * 6 * dt; angle >= 720 {
			angle -= 720
			vary(t)
		}
		var push float64
		for k, a := range angles {
			deg := math.Mod(angle-float64(a)+1080, 720) - 360
			push += torque(deg, now[k])
		}
		turn := angle * math.Pi / 180
		lift := m.unbalance[0]*math.Cos(turn+1) + m.unbalance[1]*math.Cos(2*turn)
		var felt [3]float64
		for i, o := range m.modes {
			w := 2 * math.Pi * o.hz
			a := o.roll*push + o.lift*lift - w*w*place[i] - 2*o.damping*w*speed[i]
			speed[i] += a * dt
			place[i] += speed[i] * dt
			for k, d := range o.along {
				felt[k] += d * a
			}
		}
		cut := min(2*math.Pi*0.3*m.hz*dt, 1)
		for k := range low {
			low[k] += (felt[k] - low[k]) * cut
		}
		if t >= next {
			s := Shake{Seconds: math.Round(t*1e4) / 1e4, Axes: low}
			if m.bare {
				s.Axes = felt
			}
			for k := range s.Axes {
				s.Axes[k] += 5.6 + m.noise*rng.NormFloat64()
			}
			out = append(out, s)
			next += max(1+m.jitter*rng.NormFloat64(), 0.2) / m.hz
		}
	}
	return out
}
