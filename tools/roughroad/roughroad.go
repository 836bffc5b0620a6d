// Package roughroad is a small crank generator, independent of the practice
// engine and of the analysis it tries: a simulated road, belt and wheel that the
// tools and the tests of measure/crank share.
//
// Energy is integrated over the crank angle in steps of half a degree; marks
// fall where they stand plus their error. The burn's shape differs on purpose
// from the one the analysis assumes.
package roughroad

import (
	"math"
	"math/rand/v2"
	"slices"

	"halforder/engine"
)

// Engine is an engine, its wheel and its road.
type Engine struct {
	Layout  engine.Layout
	RPM     func(seconds float64) float64 // wanted speed
	Cycles  int
	Marks   []float64 // degrees of one turn, ascending, the first 0
	TopAt   float64   // top dead centre of the first in the firing order, degrees after mark 0
	Spacing float64   // degrees, one sigma per mark
	Runout  float64   // degrees, once per turn
	Jitter  float64   // seconds
	Road    float64   // N·m, one sigma of a slow random torque
	Belt    float64   // N·m at BeltHz
	BeltHz  float64
	Load    float64 // multiplies the indicated work: 1 pulls, 0.5 idles along
	Cycle   float64 // cycle-to-cycle scatter of work
	Spread  float64 // cylinder-to-cylinder scatter of work
	Dead    map[engine.Cylinder]bool
	Weak    map[engine.Cylinder]float64 // share of work done
	MissP   map[engine.Cylinder]float64 // chance of a miss
	Partial float64                     // share of work done in a miss: above 0 it is a partial burn
	CamAt   []float64                   // degrees of the cycle after mark 0
	Starter float64                     // N·m a cylinder at rest; above 0 it turns the engine and nothing burns
	Seed    uint64
}

// Default is a healthy engine on a middling road with a good wheel.
func Default(l engine.Layout, marks []float64, rpm float64) Engine {
	return Engine{Layout: l, Marks: marks, RPM: func(float64) float64 { return rpm }, Cycles: 200, TopAt: 84,
		Spacing: 0.03, Runout: 0.1, Jitter: 0.5e-6, Road: 4, Belt: 1.5, BeltHz: 23, Load: 1, Cycle: 0.06, Spread: 0.03,
		CamAt: []float64{300}, Seed: 1}
}

// Place is a firing: which cycle and which firing position.
type Place struct{ Cycle, Position int }

// Truth is what really happened.
type Truth struct {
	Misses map[Place]bool    // dead ones too
	Times  map[Place]float64 // seconds, at top dead centre
}

const (
	cycleDeg = 720.0
	turnDeg  = 360.0
	step     = 0.5 // degrees
	steps    = int(cycleDeg / step)

	inertiaEach = 0.0425 // kg·m² of crank and flywheel a cylinder
	pistonEach  = 0.0016 // kg·m²: reciprocating mass × crank radius²
)

// tape is the state of one run.
type tape struct {
	e              *Engine
	tops           []float64 // of the firings, degrees
	dice           *rand.Rand
	strength, errs []float64
	work, before   []float64 // of this cycle's firings, of the last one's
	inertia        []float64
	t, omega, road float64
	mark, cam      int // next ones
	crank, camAt   []float64
	truth          Truth
}

// Run gives the edges of crank and cam in seconds, ascending.
func (e Engine) Run() (crank, cam []float64, truth Truth) {
	r := e.newTape()
	for c := range e.Cycles {
		r.light(c)
		for i := range steps {
			r.step(c, i)
		}
	}
	for i := 1; i < len(r.crank); i++ {
		r.crank[i] = max(r.crank[i], r.crank[i-1]+1e-9)
	}
	slices.Sort(r.camAt)
	return r.crank, r.camAt, r.truth
}

func (e Engine) newTape() *tape {
	n := e.Layout.N()
	r := &tape{e: &e, dice: rand.New(rand.NewPCG(e.Seed, 77)), strength: make([]float64, n), work: make([]float64, n),
		truth: Truth{map[Place]bool{}, map[Place]float64{}}, omega: e.RPM(0) * math.Pi / 30}
	for k := range n {
		r.strength[k] = 1 + e.Spread*r.dice.NormFloat64()
		if w, ok := e.Weak[e.Layout.At(k)]; ok {
			r.strength[k] *= w
		}
	}
	for _, a := range e.Marks {
		r.errs = append(r.errs, e.Spacing*r.dice.NormFloat64()+e.Runout*math.Sin((a+40)*math.Pi/180))
	}
	for _, a := range e.Layout.Angles() {
		r.tops = append(r.tops, math.Mod(float64(a)+e.TopAt, cycleDeg))
	}
	copy(r.work, r.strength)
	for i := range steps + 1 {
		r.inertia = append(r.inertia, r.inertiaAt(float64(i)*step))
	}
	return r
}

// inertiaAt is that of the crank with its pistons.
func (r *tape) inertiaAt(a float64) float64 {
	j := inertiaEach * float64(len(r.tops))
	for _, top := range r.tops {
		sin, cos := math.Sincos((a - top) * math.Pi / 180)
		v := sin * (1 + 0.3*cos)
		j += 0.6 * pistonEach * v * v
	}
	return j
}

// light throws the dice for the firings of a cycle.
func (r *tape) light(cycle int) {
	r.before = slices.Clone(r.work)
	for k := range r.work {
		c := r.e.Layout.At(k)
		miss := r.e.Dead[c] || r.e.MissP[c] > r.dice.Float64()
		r.work[k] = r.strength[k] * (1 + r.e.Cycle*r.dice.NormFloat64())
		if miss {
			r.work[k] *= r.e.Partial
			r.truth.Misses[Place{cycle, k}] = true
		}
	}
	if cycle == 0 {
		r.before = slices.Clone(r.work)
	}
}

// step turns the crank by half a degree.
func (r *tape) step(cycle, i int) {
	e, a := r.e, float64(i)*step
	n := float64(e.Layout.N())
	rpm := r.omega * 30 / math.Pi
	each := e.Load * (70 + 8*math.Pow(rpm/1000, 2)) // J a firing
	torque := r.gas(cycle, a, each)
	if e.Starter > 0 {
		torque = r.cranked(a)
	}
	if e.Road > 0 {
		dt := step / 6 / rpm
		r.road += -r.road*dt*40 + e.Road*math.Sqrt(2*40*dt)*r.dice.NormFloat64()
	}
	torque += r.road + e.Belt*math.Sin(2*math.Pi*e.BeltHz*r.t)
	brake := each*n/(4*math.Pi) + inertiaEach*n*(r.omega-e.RPM(r.t)*math.Pi/30)*2.5
	if e.Starter > 0 {
		brake = 0
	}
	energy := r.inertia[i]*r.omega*r.omega/2 + (torque-brake)*step*math.Pi/180
	before := r.omega
	r.omega = math.Sqrt(2 * max(energy, 1) / r.inertia[i+1])
	dt := step * math.Pi / 180 * 2 / (r.omega + before)
	r.crank = r.pass(cycleDeg*float64(cycle)+a, dt, turnDeg, e.Marks, r.errs, e.Jitter, &r.mark, r.crank)
	r.camAt = r.pass(cycleDeg*float64(cycle)+a, dt, cycleDeg, e.CamAt, nil, 2e-6, &r.cam, r.camAt)
	r.t += dt
}

// gas is the torque of all cylinders at an angle.
func (r *tape) gas(cycle int, a, each float64) (torque float64) {
	for k, top := range r.tops {
		x, w := a-top, r.work[k]
		if math.Abs(x) < step/2 {
			r.truth.Times[Place{cycle, k}] = r.t
		}
		if x < -2*step {
			x, w = x+cycleDeg, r.before[k]
		}
		i := (int(math.Round(x/step)) + steps) % steps
		torque += each*w*burn[i] + (40+25*r.e.Load)*motored[i]
	}
	return torque
}

// pass records the edges that fall within a step of the crank.
func (r *tape) pass(from, dt, period float64, at, errs []float64, jitter float64, next *int, out []float64) []float64 {
	for len(at) > 0 {
		k := *next % len(at)
		a := period*float64(*next/len(at)) + at[k]
		if errs != nil {
			a += errs[k]
		}
		f := (a - from) / step
		if f >= 1 {
			break
		}
		out = append(out, r.t+f*dt+jitter*r.dice.NormFloat64())
		*next++
	}
	return out
}

// burn and motored are, per radian and by steps over the cycle from top dead
// centre, the torque of one joule burnt and of one joule of compression.
var burn, motored = torques()

func torques() (burn, motored []float64) {
	burn, motored = make([]float64, steps), make([]float64, steps)
	well := func(x float64) float64 { return -math.Exp(-math.Pow(x/38, 2)) }
	sum := 0.0
	for i := range steps {
		x := float64(i) * step
		if x > 3 && x < 150 {
			u := (x - 3) / 34
			burn[i] = math.Pow(u, 1.3) * math.Exp(-math.Pow(u, 1.25))
		}
		sum += burn[i] * step * math.Pi / 180
		y := math.Remainder(x, cycleDeg)
		motored[i] = (well(y+step/2) - well(y-step/2)) / (step * math.Pi / 180)
	}
	for i := range burn {
		burn[i] /= sum
	}
	return burn, motored
}
