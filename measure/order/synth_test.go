package order

import (
	"math"
	"math/rand/v2"

	"halforder/engine"
)

// synth is a plain engine sound of its own, far from the practice engine's
// physics: each firing is a thump in the bass and a burst of hiss, through an
// echo. It lets laws be tested with everything known.
type synth struct {
	layout  engine.Layout
	rate    float64
	rpm     float64
	seconds float64
	work    []float64 // by firing position
	spread  float64   // of the work from cycle to cycle
	wander  float64   // of the speed, ratio
	noise   float64   // white, against the firings
	seed    uint64
	miss    func(cycle, position int) bool
	slow    float64 // share by which a miss lengthens the next cycle
}

func (s synth) sound() []float32 {
	rng := rand.New(rand.NewPCG(s.seed, 99))
	x := make([]float32, int(s.rate*s.seconds))
	angles := s.layout.Angles()
	at, cycle, missed := 0.05, 0, false
	for at < s.seconds {
		speed := s.rpm * (1 + s.wander*math.Sin(2*math.Pi*at/7))
		length := 120 / speed
		if missed {
			length *= 1 + s.slow
		}
		missed = false
		for k, a := range angles {
			w := s.work[k] * (1 + s.spread*rng.NormFloat64())
			if s.miss != nil && s.miss(cycle, k) {
				w, missed = 0, true
			}
			s.fire(x, at+length*float64(a)/720, w, rng)
		}
		at += length
		cycle++
	}
	for i := range x {
		x[i] += float32(s.noise * 0.05 * rng.NormFloat64())
	}
	return x
}

// fire adds one firing: 20 ms of falling bass and of hiss.
func (s synth) fire(x []float32, at, work float64, rng *rand.Rand) {
	from := int(at * s.rate)
	for i := range int(0.03 * s.rate) {
		if from+i >= len(x) {
			return
		}
		t := float64(i) / s.rate
		thump := math.Exp(-t/0.008) * math.Sin(2*math.Pi*55*t)
		hiss := math.Exp(-t/0.006) * rng.NormFloat64() * 0.3
		x[from+i] += float32(work * 0.2 * (thump + hiss))
	}
}
