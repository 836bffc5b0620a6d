// Package idlesim is a small idling engine for testing the cut-out test: a
// torque balance firing by firing, and an idle control that hides the drop. It
// is made apart from the practice engine and from every analysis, so that the
// two simulations can disagree.
package idlesim

import (
	"math"
	"math/rand/v2"

	"halforder/engine"
)

// Car is one engine at idle.
type Car struct {
	Layout   engine.Layout
	IdleRPM  float64
	Strength []float64 // by cylinder − 1: mean work of a firing, 1 is healthy
	Misses   []float64 // by cylinder − 1: share of firings without any work
	Scatter  float64   // spread of work from firing to firing

	Tau      float64 // s, time constant of the drop at fixed air
	Manifold float64 // s, filling lag of the intake
	Spark    float64 // idle spark control: efficiency per relative speed error
	Air      float64 // idle air control, proportional
	Integral float64 // idle air control, per second
	Wander   float64 // slow random load, share of idle torque, over about 8 s
	WarmUp   float64 // share of friction that goes away over WarmUpS
	WarmUpS  float64
}

// Healthy is an ordinary engine of the layout: trade figures for the time
// constant (0.6–0.7 s) and the control's recovery, the rest judgement.
func Healthy(l engine.Layout) Car {
	return Car{Layout: l, IdleRPM: 750, Strength: ones(l.N()), Misses: make([]float64, l.N()), Scatter: 0.08,
		Tau: 0.65, Manifold: 0.12, Spark: 1.2, Air: 1.0, Integral: 1.6, Wander: 0.008, WarmUpS: 120}
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// Cut is a stretch without work from some cylinders.
type Cut struct {
	Start, End float64
	Cylinders  []engine.Cylinder
}

// Load is an extra load: a fan, a compressor. Share of the idle torque.
type Load struct{ Start, End, Share float64 }

// Trace is what happened, one row per firing.
type Trace struct {
	Layout    engine.Layout
	T         []float64 // s
	RPM       []float64
	AirRatio  []float64 // idle air, 1 is the healthy warm idle
	SparkDeg  []float64
	Work      []float64 // of the firing, 1 is healthy at idle air
	Position  []int     // in the firing order
	StalledAt float64   // s, NaN if it kept running
}

// Run idles the car for seconds.
func Run(c Car, cuts []Cut, loads []Load, seconds float64, seed uint64) Trace {
	s := sim{car: c, rng: rand.New(rand.NewPCG(seed, 0x1d1e)), speed: 1, air: 1, fill: 1}
	for range int(5 * c.IdleRPM / 120 * float64(c.Layout.N())) {
		s.fire(nil, nil, -10) // settle
	}
	s.integral = s.air - 1 // as it stands
	out := Trace{Layout: c.Layout, StalledAt: math.NaN()}
	for now := -8.0; now < seconds; {
		dt, work, pos := s.fire(cuts, loads, now)
		now += dt
		if now >= 0 {
			out.add(now, &s, work, pos)
		}
		if s.speed < 0.25 && now >= 0 {
			out.StalledAt = now
			out.stand(now, math.Min(now+standing, seconds))
			now += standing
			s.restart()
		}
	}
	return out
}

type sim struct {
	car       Car
	rng       *rand.Rand
	speed     float64 // share of the idle target
	air, fill float64
	integral  float64
	wander    float64
	spark     float64
	next      int
}

// fire lets one cylinder fire. Speed is a share of idle: at fixed air the power
// is fixed, so torque goes as fill/speed against a constant friction, and
// 2·π·idle·J over friction torque is Tau.
func (s *sim) fire(cuts []Cut, loads []Load, now float64) (dt, work float64, position int) {
	c, n := s.car, s.car.Layout.N()
	position = s.next
	s.next = (s.next + 1) % n
	cyl := c.Layout.At(position)
	atIdle := float64(c.Layout.Interval(position)) / (6 * c.IdleRPM)
	dt = atIdle / s.speed
	s.control(dt)
	work = s.work(cyl, cuts, now)
	torque := s.fill / math.Max(s.speed, 0.3) * (1 + s.spark) * work
	square := s.speed*s.speed + 2*atIdle/c.Tau*(torque-s.friction(loads, now))
	s.speed = math.Sqrt(math.Max(square, 0.0025))
	s.wander += -s.wander*dt/8 + c.Wander*math.Sqrt(2*dt/8)*s.rng.NormFloat64()
	return dt, work * s.fill, position
}

func (s *sim) work(cyl engine.Cylinder, cuts []Cut, now float64) float64 {
	for _, cut := range cuts {
		if now >= cut.Start && now < cut.End {
			for _, c := range cut.Cylinders {
				if c == cyl {
					return 0
				}
			}
		}
	}
	if s.rng.Float64() < s.car.Misses[cyl-1] {
		return 0
	}
	return s.car.Strength[cyl-1] * (1 + s.car.Scatter*s.rng.NormFloat64())
}

func (s *sim) friction(loads []Load, now float64) float64 {
	f := 1 + s.wander + s.car.WarmUp*(math.Exp(-math.Max(now, 0)/s.car.WarmUpS)-1)
	for _, l := range loads {
		if now >= l.Start && now < l.End {
			f += l.Share
		}
	}
	return f
}

// control is a spark that answers at once and is bounded, and air that follows.
func (s *sim) control(dt float64) {
	miss := 1 - s.speed
	s.spark = math.Max(-0.15, math.Min(0.12, s.car.Spark*miss))
	s.integral = math.Max(-0.6, math.Min(3, s.integral+s.car.Integral*miss*dt))
	s.air = math.Max(0.3, 1+s.integral+s.car.Air*miss)
	s.fill += (s.air - s.fill) * dt / s.car.Manifold
}

func (t *Trace) add(now float64, s *sim, work float64, position int) {
	t.T = append(t.T, now)
	t.RPM = append(t.RPM, s.speed*s.car.IdleRPM)
	t.AirRatio = append(t.AirRatio, s.air)
	t.SparkDeg = append(t.SparkDeg, 8+60*s.spark)
	t.Work = append(t.Work, work)
	t.Position = append(t.Position, position)
}

// standing is how long a stalled engine stands before it is started again, s.
const standing = 6.0

func (s *sim) restart() { s.speed, s.air, s.fill, s.integral = 1.3, 1, 1, s.integral/2 }

// stand fills the record while the engine stands.
func (t *Trace) stand(from, to float64) {
	for now := from; now < to; now += 0.05 {
		t.T = append(t.T, now)
		t.RPM = append(t.RPM, 0)
		t.AirRatio = append(t.AirRatio, 0)
		t.SparkDeg = append(t.SparkDeg, 0)
		t.Work = append(t.Work, 0)
		t.Position = append(t.Position, 0)
	}
}

// Column is one of the trace's rows, to be sampled.
type Column func(Trace) []float64

// The columns an engine computer would give.
var (
	RPM   Column = func(t Trace) []float64 { return t.RPM }
	Air   Column = func(t Trace) []float64 { return t.AirRatio }
	Spark Column = func(t Trace) []float64 { return t.SparkDeg }
)

// Sample reads a column as a bus gives it: at rate per second with jitter of a
// tenth of the interval, averaged over one cycle, with noise and a step of
// quantum.
func (t Trace) Sample(col Column, rate, noise, quantum float64, seed uint64) (at, value []float64) {
	rng := rand.New(rand.NewPCG(seed, 0x5a3))
	x, n := col(t), t.Layout.N()
	i := 0
	for now := 0.5; now < t.T[len(t.T)-1]; now += (1 + 0.1*(rng.Float64()-0.5)) / rate {
		for i < len(t.T)-1 && t.T[i+1] <= now {
			i++
		}
		var sum float64
		from := max(i-n+1, 0)
		for k := from; k <= i; k++ {
			sum += x[k]
		}
		v := sum/float64(i-from+1) + noise*rng.NormFloat64()
		if quantum > 0 {
			v = math.Round(v/quantum) * quantum
		}
		at, value = append(at, now), append(value, v)
	}
	return at, value
}
