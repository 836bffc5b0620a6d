package idlesim

import (
	"math"
	"math/rand/v2"

	"halforder/engine"
)

// Case is a whole cut-out test with its truth.
type Case struct {
	Car      Car
	Cuts     []Cut  // as they were done
	Called   []Call // as they were called, one for each of Cuts
	Loads    []Load
	Trace    Trace
	Rate     float64 // samples of speed a second
	Quantum  float64 // rpm
	Noise    float64 // rpm
	Marked   bool    // the button was pressed
	Fault    int     // how many cylinders are troubled
	Seed     uint64
	WrongOne bool // a cut was done on another cylinder than called

	pause, wrongShare float64
}

// Call is a press of the button.
type Call struct {
	Off, On   float64
	Cylinders []engine.Cylinder
}

// Options narrow what Random draws.
type Options struct {
	Cylinders  int     // 0: 3 to 8
	Faults     int     // −1: none to two
	Marked     bool    // button always pressed
	Unmarked   bool    // button never pressed
	Once       bool    // each cylinder once, in number order
	NoLoads    bool    // no fans
	WrongShare float64 // share of cuts done on the wrong cylinder
	Rate       float64 // 0: 2 to 50
}

var layoutsOf = map[int][]string{3: {"i3"}, 4: {"i4", "flat4"}, 5: {"i5"}, 6: {"i6", "v6-142536"}, 7: {"1-3-5-7-2-4-6"}, 8: {"v8-18436572"}}

// Random draws a case: engine, faults, control, drift, fans, hands.
func Random(seed uint64, o Options) Case {
	rng := rand.New(rand.NewPCG(seed, 0xca5e))
	n := o.Cylinders
	if n == 0 {
		n = 3 + rng.IntN(6)
	}
	names := layoutsOf[n]
	l, err := engine.Parse(names[rng.IntN(len(names))])
	if err != nil {
		panic(err)
	}
	c := Case{Car: Healthy(l), Seed: seed, Rate: o.Rate, Quantum: []float64{0.25, 0.25, 1, 2}[rng.IntN(4)], Noise: 0.5 + 2*rng.Float64()}
	if c.Rate == 0 {
		c.Rate = []float64{2.5, 5, 10, 20, 50}[rng.IntN(5)]
	}
	c.Marked = o.Marked || !o.Unmarked && rng.Float64() < 0.6
	c.vary(rng)
	c.hurt(rng, o.Faults)
	c.schedule(rng, o)
	end := c.Cuts[len(c.Cuts)-1].End + 12
	if !o.NoLoads && rng.Float64() < 0.5 {
		for range 1 + rng.IntN(3) {
			at := 3 + rng.Float64()*(end-10)
			c.Loads = append(c.Loads, Load{at, at + 8 + 30*rng.Float64(), 0.04 + 0.16*rng.Float64()})
		}
	}
	c.Trace = Run(c.Car, c.Cuts, c.Loads, end, seed)
	return c
}

func (c *Case) vary(rng *rand.Rand) {
	k := &c.Car
	k.IdleRPM = 650 + 250*rng.Float64()
	if c.Car.Layout.N() == 3 {
		k.IdleRPM = 1200 + 300*rng.Float64() // trade notes 1.3: hold a three above idle
	}
	k.Tau = 0.55 + 0.25*rng.Float64()
	k.Spark, k.Air, k.Integral = 2*rng.Float64(), 1.5*rng.Float64(), 0.4+2*rng.Float64()
	if rng.Float64() < 0.1 {
		k.Spark, k.Air, k.Integral = 0, 0.6, 0
	}
	k.Wander = 0.003 + 0.010*rng.Float64()
	k.WarmUp = 0.08 * rng.Float64()
	k.Scatter = 0.05 + 0.06*rng.Float64()
	for i := range k.Strength {
		k.Strength[i] = 1 + 0.03*rng.NormFloat64()
	}
}

func (c *Case) hurt(rng *rand.Rand, faults int) {
	n := c.Car.Layout.N()
	if faults < 0 {
		faults = []int{0, 1, 1, 1, 1, 1, 1, 2, 2, 2}[rng.IntN(10)]
	}
	if n == 3 {
		faults = min(faults, 1)
	}
	c.Fault = faults
	for _, i := range rng.Perm(n)[:faults] {
		switch rng.IntN(4) {
		case 0, 1:
			c.Car.Strength[i] = 0
		case 2:
			c.Car.Strength[i] = 0.25 + 0.5*rng.Float64()
		case 3:
			c.Car.Misses[i] = 0.3 + 0.5*rng.Float64()
		}
	}
}

// schedule draws the order and the times: ABBA or each once, 3–5 s off, 8–14 s
// between.
func (c *Case) schedule(rng *rand.Rand, o Options) {
	n := c.Car.Layout.N()
	c.pause, c.wrongShare = 8+4*rng.Float64(), o.WrongShare
	for i := range n {
		c.add(rng, engine.Cylinder(i+1))
	}
	for i := n; i > 0 && !o.Once; i-- {
		c.add(rng, engine.Cylinder(i))
	}
}

// add appends a cut of the called cylinder.
func (c *Case) add(rng *rand.Rand, called engine.Cylinder) {
	now := 8 + 4*rng.Float64()
	if n := len(c.Cuts); n > 0 {
		now = c.Cuts[n-1].End + c.pause*(0.9+0.2*rng.Float64())
	}
	done := called
	if rng.Float64() < c.wrongShare {
		done = engine.Cylinder(1 + int(called)%c.Car.Layout.N())
		c.WrongOne = true
	}
	length := 3 + 2*rng.Float64()
	c.Cuts = append(c.Cuts, Cut{now, now + length, []engine.Cylinder{done}})
	late := func() float64 { return math.Max(-0.5, 0.7+0.4*rng.NormFloat64()) }
	c.Called = append(c.Called, Call{now - late(), now + length - late()*0.5, []engine.Cylinder{called}})
}

// Again is the same car and the same day with these cylinders cut instead, in
// this order: the longer of two orders that begin alike goes on where the
// shorter ended.
func (c Case) Again(order []engine.Cylinder) Case {
	rng := rand.New(rand.NewPCG(c.Seed, 0xa6a1))
	c.Cuts, c.Called, c.Marked = nil, nil, true
	for _, k := range order {
		c.add(rng, k)
	}
	c.Trace = Run(c.Car, c.Cuts, c.Loads, c.Cuts[len(c.Cuts)-1].End+12, c.Seed)
	return c
}

// Truth is the mean strength of each cylinder, by number − 1.
func (c Case) Truth() []float64 {
	out := make([]float64, len(c.Car.Strength))
	for i := range out {
		out[i] = c.Car.Strength[i] * (1 - c.Car.Misses[i])
	}
	return out
}
