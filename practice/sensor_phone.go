package practice

import "math"

// PhoneSensor is a phone lying on the engine: it feels the engine rock on its
// mounts, in axes of its own.
type PhoneSensor struct {
	Hz     float64 // 60 in a browser, 100–400 in an app
	Jitter float64 // deviation of the time stamps as a fraction of the period; 0: 0.08 (judgement)
	Level  bool    // axes: x across the engine, y along it, z up; else turned at random
}

// Shake is one sample of acceleration in m/s², gravity included.
type Shake struct{ T, X, Y, Z float64 }

// Mounts (judgement): 9 Hz vertical and 10 Hz in roll, damping 0.12 of
// critical; the phone lies 0.30 m above and 0.12 m beside the roll axis.
const (
	bounceHz, rollHz = 9.0, 10.0
	mountDamping     = 0.12
	phoneAbove       = 0.30
	phoneBeside      = 0.12
)

type phoneMaker struct {
	want          PhoneSensor
	noise         dice
	turn          [3][3]float64
	mass, inertia float64
	unbalanced    []float64 // N per (rad/s)² upward force of the pistons by degree
	z, vz, az     float64
	roll, vr, ar  float64
	lx, lz        float64 // after the chip's own filter
	next          float64 // true time of the next sample
	out           []Shake
	bias          [3]float64
	period        float64
}

func newPhoneMaker(e *Engine, want PhoneSensor) *phoneMaker {
	if want.Jitter == 0 {
		want.Jitter = 0.08
	}
	p := &phoneMaker{want: want, noise: newDice(e.cfg.Seed, "phone"), period: 1 / want.Hz, next: e.now}
	p.mass = 60 + 45*e.litres // kg with gearbox (judgement)
	p.inertia = p.mass * 0.16 * 0.16
	p.unbalanced = shakingForce(e)
	p.turn = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	if !want.Level {
		p.turn = randomTurn(p.noise)
	}
	for i := range p.bias {
		p.bias[i] = 0.05 * p.noise.normal()
	}
	return p
}

// shakingForce is Σ m·d²x/dθ² of the pistons, counted in each bank's own
// direction (a V leans by 45° on either side, opposed banks cancel sideways).
func shakingForce(e *Engine) []float64 {
	out := make([]float64, cycle)
	lean := 1.0
	if len(e.cfg.Layout.Banks()) > 1 {
		lean = math.Sqrt(0.5)
	}
	for i := range out {
		for _, c := range e.cylinders {
			at := float64(i) - float64(e.cfg.Layout.Angle(c.no))
			bend := (e.cfg.Build.slope(at+0.5) - e.cfg.Build.slope(at-0.5)) / degree
			out[i] += lean * e.cfg.Build.PistonKg * bend
		}
	}
	return out
}

// randomTurn is a rotation from a random unit quaternion.
func randomTurn(d dice) [3][3]float64 {
	w, x, y, z := d.normal(), d.normal(), d.normal(), d.normal()
	n := math.Sqrt(w*w + x*x + y*y + z*z)
	w, x, y, z = w/n, x/n, y/n, z/n
	return [3][3]float64{
		{1 - 2*(y*y+z*z), 2 * (x*y - z*w), 2 * (x*z + y*w)},
		{2 * (x*y + z*w), 1 - 2*(x*x+z*z), 2 * (y*z - x*w)},
		{2 * (x*z - y*w), 2 * (y*z + x*w), 1 - 2*(x*x+y*y)},
	}
}

// step moves the engine block on its mounts. The block feels the crank's
// acceleration in reverse; the pistons shake it up and down.
func (p *phoneMaker) step(e *Engine) {
	dt := e.dt
	push := p.unbalanced[e.angle]*e.omega*e.omega + e.plant.unbalance*e.omega*e.omega*math.Cos(float64(e.angle)*degree)
	const wb, wr = 2 * math.Pi * bounceHz, 2 * math.Pi * rollHz
	p.az = push/p.mass - wb*wb*p.z - 2*mountDamping*wb*p.vz
	p.vz += p.az * dt
	p.z += p.vz * dt
	p.ar = -e.inertia[e.angle]*e.alpha/p.inertia - wr*wr*p.roll - 2*mountDamping*wr*p.vr
	p.vr += p.ar * dt
	p.roll += p.vr * dt
	chip := min(dt*2*math.Pi*0.45*p.want.Hz, 1)
	p.lx += (phoneAbove*p.ar - p.lx) * chip
	p.lz += (p.az + phoneBeside*p.ar - p.lz) * chip
	for p.next < e.now+dt {
		p.sample()
	}
}

// sample reads the chip a little off the beat and stamps the time to a tenth
// of a millisecond, with another small error of its own.
func (p *phoneMaker) sample() {
	in := [3]float64{p.lx, 0.15 * p.lx, p.lz + 9.81}
	var out [3]float64
	for i := range out {
		for k := range in {
			out[i] += p.turn[i][k] * in[k]
		}
		out[i] = round(out[i]+p.bias[i]+0.02*p.noise.normal(), 1e-3)
	}
	stamp := round(p.next+0.02*p.period*p.noise.normal(), 1e-4)
	p.out = append(p.out, Shake{stamp, out[0], out[1], out[2]})
	p.next += p.period * max(1+p.want.Jitter*p.noise.normal(), 0.2)
}

func (p *phoneMaker) take() []Shake {
	out := p.out
	p.out = nil
	return out
}

func round(x, unit float64) float64 { return math.Round(x/unit) * unit }
