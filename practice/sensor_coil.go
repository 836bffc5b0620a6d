package practice

import (
	"math"

	"halforder/engine"
)

// CoilSensor is a current clamp around the feeds of some coils, and a voltage
// probe on the primary of the first of them.
type CoilSensor struct {
	Hz        float64
	Cylinders []engine.Cylinder // nil: the common feed of all coils
}

type coilTracer struct {
	amps, volts tape
	watched     []bool
	first       engine.Cylinder
	noise       dice
	offset      float64
}

func newCoilTracer(e *Engine, want CoilSensor) *coilTracer {
	t := &coilTracer{amps: newTape(e, want.Hz, "A"), volts: newTape(e, want.Hz, "V"), watched: make([]bool, e.n), noise: newDice(e.cfg.Seed, "coil trace")}
	which := want.Cylinders
	if len(which) == 0 {
		which = e.cfg.Layout.Cylinders()
	}
	for _, c := range which {
		t.watched[c-1] = true
	}
	t.first = which[0]
	t.offset = 0.08 * t.noise.normal() // zero error of a clamp (judgement)
	return t
}

// spark writes the dwell that has just ended, and the burn to come.
func (t *coilTracer) spark(e *Engine, c *cylinder) {
	t.reach(e, e.now+6e-3)
	if !t.watched[c.no-1] {
		return
	}
	t.ramp(e, c)
	if c.no == t.first {
		t.primary(e, c)
	}
}

// reach extends both traces to a time with quiet samples.
func (t *coilTracer) reach(e *Engine, until float64) {
	t.amps.trace.X = grow(t.amps.trace.X, t.amps.due(until), 0)
	t.volts.trace.X = grow(t.volts.trace.X, t.volts.due(until), float32(e.volts))
	n := t.amps.due(until)
	t.amps.next, t.volts.next = t.amps.next+n, t.volts.next+n
}

func grow(x []float32, n int, value float32) []float32 {
	for range n {
		x = append(x, value)
	}
	return x
}

// span is the sample range of a time span within what is still held.
func (t *tape) span(from, to float64) (i, j int) {
	i = max(int(math.Ceil((from-t.trace.Start)*t.trace.Hz)), 0)
	return i, min(int(math.Ceil((to-t.trace.Start)*t.trace.Hz)), len(t.trace.X))
}

// ramp is V/R(1 − e^(−tR/L)), cut off at the driver's limit.
func (t *coilTracer) ramp(e *Engine, c *cylinder) {
	s := c.spark
	begin := e.now - s.DwellSec
	i, j := t.amps.span(begin, e.now)
	top, fade := (e.volts-driverDropV)/s.ohms, math.Exp(-s.ohms/s.henry/t.amps.trace.Hz)
	rest := top * math.Exp(-(t.amps.trace.At(i)-begin)*s.ohms/s.henry)
	for ; i < j; i++ {
		t.amps.trace.X[i] += float32(min(top-rest, coilLimitA))
		rest *= fade
	}
}

// primary is the voltage at the switched end: low in dwell, a kick when the
// current breaks, a plateau while the spark burns, then ringing. 200–400 V of
// kick and more with no spark at all: trade practice.
func (t *coilTracer) primary(e *Engine, c *cylinder) {
	s := c.spark
	if s.DwellSec == 0 {
		return
	}
	i, j := t.volts.span(e.now-s.DwellSec, e.now)
	for ; i < j; i++ {
		t.volts.trace.X[i] = driverDropV
	}
	kick := 200 + 8*s.DemandKV
	switch {
	case s.BurnSec == 0 && s.DemandKV > s.SpareKV && s.SpareKV > 20:
		kick = 520
	case s.BurnSec == 0:
		kick = min(8*s.SpareKV, 200)
	}
	i, j = t.volts.span(e.now, e.now+5e-3)
	for k := i; k < j; k++ {
		t.volts.trace.X[k] = float32(e.volts + afterKick(float64(k-i)/t.volts.trace.Hz, kick, s.BurnSec))
	}
}

func afterKick(t, kick, burn float64) float64 {
	spike := kick * math.Exp(-t/25e-6)
	if t < burn {
		return spike + 22 + 14*t/max(burn, 1e-4)
	}
	ring := t - burn
	return spike + 24*math.Exp(-ring/0.25e-3)*math.Cos(2*math.Pi*4500*ring)
}

// take holds back the last 8 ms, which the next spark may still change.
func (t *coilTracer) take(e *Engine) (amps, volts Trace) {
	t.reach(e, e.now)
	amps, volts = t.amps.split(e.now-8e-3), t.volts.split(e.now-8e-3)
	for i := range amps.X {
		amps.X[i] = float32(round(float64(amps.X[i])+t.offset+0.03*t.noise.hiss(), 1e-3))
		volts.X[i] = float32(round(float64(volts.X[i])+0.05*t.noise.hiss(), 1e-2))
	}
	return amps, volts
}

// split takes the samples before a time and keeps the rest.
func (t *tape) split(until float64) Trace {
	n := min(max(int((until-t.trace.Start)*t.trace.Hz), 0), len(t.trace.X))
	out := t.trace
	out.X = append([]float32(nil), t.trace.X[:n]...)
	t.trace.X = append([]float32(nil), t.trace.X[n:]...)
	t.trace.Start += float64(n) / t.trace.Hz
	return out
}
