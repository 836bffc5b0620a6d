package crank

import (
	"math"
	"math/rand/v2"
	"slices"

	"halforder/engine"
)

// simEngine is a small independent crank generator: energy is integrated over
// the crank angle in steps of half a degree, marks fall where they stand plus
// their error. Its burn shape differs from the model's on purpose.
type simEngine struct {
	layout  engine.Layout
	rpm     func(seconds float64) float64 // wanted speed
	cycles  int
	wheel   Wheel   // with angles
	topsAt  float64 // top dead centre of the first in the firing order, degrees after mark 0
	spacing float64 // degrees, one sigma per mark
	runout  float64 // degrees, once per turn
	jitter  float64 // seconds
	road    float64 // Nm, one sigma of a slow random torque
	belt    float64 // Nm at beltHz
	beltHz  float64
	load    float64 // multiplies the indicated work
	cov     float64 // cycle-to-cycle scatter of work
	spread  float64 // cylinder-to-cylinder scatter of work
	dead    map[engine.Cylinder]bool
	weak    map[engine.Cylinder]float64 // share of work done
	missP   map[engine.Cylinder]float64 // chance of a miss
	camAt   []float64                   // degrees of the cycle after mark 0
	seed    uint64
}

type simTruth struct {
	misses map[[2]int]bool // cycle, firing position (dead ones too)
	times  map[[2]int]float64
}

func defaultSim(layout string, wheel string, rpm float64) simEngine {
	l, err := engine.Parse(layout)
	if err != nil {
		panic(err)
	}
	w, err := ParseWheel(wheel)
	if err != nil {
		panic(err)
	}
	return simEngine{layout: l, wheel: w.settle(), rpm: func(float64) float64 { return rpm }, cycles: 200, topsAt: 84,
		spacing: 0.03, runout: 0.1, jitter: 0.5e-6, road: 4, belt: 1.5, beltHz: 23, load: 1, cov: 0.06, spread: 0.03,
		camAt: []float64{300}, seed: 1}
}

func (s simEngine) run() (Recording, simTruth) {
	r := rand.New(rand.NewPCG(s.seed, 77))
	n := s.layout.N()
	angles := s.layout.Angles()
	inertia := 0.0425 * float64(n)
	strength := make([]float64, n)
	for k := range strength {
		c := s.layout.At(k)
		strength[k] = 1 + s.spread*r.NormFloat64()
		if w, ok := s.weak[c]; ok {
			strength[k] *= w
		}
	}
	errs := make([]float64, len(s.wheel.Angles))
	for m, a := range s.wheel.Angles {
		errs[m] = s.spacing*r.NormFloat64() + s.runout*math.Sin((a+40)*math.Pi/180)
	}
	truth := simTruth{misses: map[[2]int]bool{}, times: map[[2]int]float64{}}
	const step = 0.5
	burn, motored := simTorque(step)
	steps := int(cycleDeg / step)
	rpm := s.rpm(0)
	omega := rpm * math.Pi / 30
	t, road := 0.0, 0.0
	var rec Recording
	work := make([]float64, n)
	prevWork := make([]float64, n)
	copy(prevWork, strength)
	next := 0 // mark
	marks := len(s.wheel.Angles)
	camNext := 0
	pistons := 0.0016 * float64(1) // kg·m²: reciprocating mass × crank radius²
	mech := func(a float64) float64 {
		j := inertia
		for k := range n {
			sn := math.Sin((a - float64(angles[k]) - s.topsAt) * math.Pi / 180)
			cs := math.Cos((a - float64(angles[k]) - s.topsAt) * math.Pi / 180)
			v := sn * (1 + 0.3*cs)
			j += pistons * v * v * 0.6
		}
		return j
	}
	jTable := make([]float64, steps+1)
	for i := range jTable {
		jTable[i] = mech(float64(i) * step)
	}
	fired := -1
	for c := range s.cycles {
		copy(prevWork, work)
		for k := range n {
			cyl := s.layout.At(k)
			miss := s.dead[cyl] || s.missP[cyl] > r.Float64()
			work[k] = strength[k] * (1 + s.cov*r.NormFloat64())
			if miss {
				work[k] = 0
				truth.misses[[2]int{c, k}] = true
			}
		}
		if c == 0 {
			copy(prevWork, work)
		}
		for i := range steps {
			a := float64(i) * step
			target := s.rpm(t) * math.Pi / 30
			rpmNow := omega * 30 / math.Pi
			indicated := s.load * (70 + 8*math.Pow(rpmNow/1000, 2)) // J per firing
			torque := 0.0
			for k := range n {
				x := a - float64(angles[k]) - s.topsAt
				w := work[k]
				if x < -2*step {
					x += cycleDeg
					w = prevWork[k]
				}
				if idx := int(x/step + 0.5); idx >= 0 && idx < steps {
					torque += indicated*w*burn[idx] + (40+25*s.load)*motored[idx%steps]
				}
				if math.Abs(a-float64(angles[k])-s.topsAt) < step/2 || fired < 0 {
					truth.times[[2]int{c, k}] = t
				}
			}
			if s.road > 0 {
				dt := step / 6 / rpmNow
				road += -road*dt*40 + s.road*math.Sqrt(2*40*dt)*r.NormFloat64()
			}
			torque += road + s.belt*math.Sin(2*math.Pi*s.beltHz*t)
			brake := indicated*float64(n)/(4*math.Pi) + inertia*(omega-target)*2.5
			e := jTable[i]*omega*omega/2 + (torque-brake)*step*math.Pi/180
			before := omega
			omega = math.Sqrt(2 * max(e, 1) / jTable[i+1])
			dt := step * math.Pi / 180 * 2 / (omega + before)
			for {
				at := turnDeg*float64(next/marks) + s.wheel.Angles[next%marks] + errs[next%marks]
				f := (at - (cycleDeg*float64(c) + a)) / step
				if f >= 1 {
					break
				}
				rec.Crank = append(rec.Crank, t+f*dt+s.jitter*r.NormFloat64())
				next++
			}
			for len(s.camAt) > 0 {
				at := cycleDeg*float64(camNext/len(s.camAt)) + s.camAt[camNext%len(s.camAt)]
				f := (at - (cycleDeg*float64(c) + a)) / step
				if f >= 1 {
					break
				}
				rec.Cam = append(rec.Cam, t+f*dt+2e-6*r.NormFloat64())
				camNext++
			}
			t += dt
		}
		fired = c
	}
	for i := 1; i < len(rec.Crank); i++ {
		rec.Crank[i] = max(rec.Crank[i], rec.Crank[i-1]+1e-9)
	}
	slices.Sort(rec.Cam)
	return rec, truth
}

// simTorque tabulates, per radian, the burn torque of one joule and the motored
// torque of one joule of compression, over the cycle from top dead centre.
func simTorque(step float64) (burn, motored []float64) {
	n := int(cycleDeg / step)
	burn, motored = make([]float64, n), make([]float64, n)
	sum := 0.0
	for i := range n {
		x := float64(i) * step
		if x > 3 && x < 150 {
			u := (x - 3) / 34
			burn[i] = math.Pow(u, 1.3) * math.Exp(-math.Pow(u, 1.25))
		}
		sum += burn[i] * step * math.Pi / 180
		well := func(x float64) float64 { return -math.Exp(-math.Pow(x/38, 2)) }
		y := x
		if y > 360 {
			y -= 720
		}
		motored[i] = (well(y+step/2) - well(y-step/2)) / (step * math.Pi / 180)
	}
	for i := range burn {
		burn[i] /= sum
	}
	return burn, motored
}

// reference tells the analysis where the first of the firing order is.
func (s simEngine) reference() []Reference {
	return []Reference{{s.layout.At(0), s.topsAt - s.camAt[0], FromCam}}
}
