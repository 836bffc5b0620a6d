package main

import (
	"math"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
)

// plainShakeHz is the rate at which the motion of a plain engine is worked out.
const plainShakeHz = 2000.0

// burnsLate is how late the cylinders push against how late they are heard: a
// degree of crank between them, and no way through the air.
const burnsLate = 0.3

// drawShaking is a plain engine as a sensor on its cover feels it: the block
// rocks on its mounts, the cover rings, and the crank's own unbalance turns with
// it. Nothing of the practice engine is in it.
func drawShaking(layout engine.Layout, seed, state int) *plain {
	p, _ := drawPlain(layout, seed, state)
	between := func(a, b float64) float64 { return a + (b-a)*p.rng.Float64() }
	p.rate, p.bass, p.clicks, p.modes = plainShakeHz, 0.3, nil, nil
	p.noise = math.Pow(10, between(-1.6, -0.7))
	for k := range p.paths {
		p.paths[k].late *= burnsLate
	}
	for range 1 + p.rng.IntN(2) {
		p.modes = append(p.modes, mode{hz: between(6, 16), decay: between(0.03, 0.12), gain: between(0.5, 1), rigid: true})
	}
	for range 2 + p.rng.IntN(3) {
		p.modes = append(p.modes, mode{hz: 20 * math.Pow(2, between(0, 3)), decay: between(0.01, 0.04), gain: between(0.1, 0.6), phase: between(0, 2*math.Pi)})
	}
	return p
}

// shakes samples the motion at hz with a sensor that lies as it likes.
func (p *plain) shakes(hz float64) []order.Shake {
	x := p.sound()
	rock, bounce := p.direction(), p.direction()
	unbalance, late := 0.3*p.rng.Float64(), 2*math.Pi*p.rng.Float64()
	var out []order.Shake
	angle, last := 0.0, 0.0
	for i := 0; ; i++ {
		t := (float64(i) + 0.1*p.rng.NormFloat64()) / hz
		k := int(t * p.rate)
		if k >= len(x) {
			return out
		}
		angle += 2 * math.Pi * p.speed(t) / 60 * (t - last)
		last = t
		s := order.Shake{Seconds: t}
		for axis := range s.Axes {
			s.Axes[axis] = 9.81*bounce[axis] + rock[axis]*float64(x[max(k, 0)]) + unbalance*bounce[axis]*math.Sin(angle+late) + 0.02*p.rng.NormFloat64()
		}
		out = append(out, s)
	}
}

// direction is one of any, of length 1.
func (p *plain) direction() (d [3]float64) {
	var square float64
	for i := range d {
		d[i] = p.rng.NormFloat64()
		square += d[i] * d[i]
	}
	for i := range d {
		d[i] /= math.Sqrt(square)
	}
	return d
}

// sweepPlainMotion judges plain engines by motion, without any cut.
func sweepPlainMotion(seeds seedSpan, layouts string, verdicts *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		for i, state := range plainStates {
			if state.of > layout.N()/2 {
				continue
			}
			p := drawShaking(layout, seed, i)
			f, err := order.Feel(p.shakes([]float64{100, 200, 400}[seed%3]), order.Config{Layout: layout})
			want := finding.Misfire
			if len(p.missed) == 0 {
				want = finding.NoMisfire
			}
			verdicts.at("plain motion, "+state.name).judge(f, err, want)
		}
	})
}
