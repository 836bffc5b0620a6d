package practice

import "halforder/engine"

// Truth is what really happened. No analysis may see it but in tests.
type Truth struct {
	Firings []Firing
	Events  []Event
}

// Firing is one cycle of one cylinder.
type Firing struct {
	Cylinder engine.Cylinder
	T        float64 // s, firing top dead centre
	Missed   bool    // the charge did not burn
	WorkJ    float64 // work of the gas on the piston over the whole cycle, pumping included
	HeatJ    float64 // heat released into the gas
	AirG     float64 // g trapped
	Lambda   float64 // 0 without fuel
	Residual float64 // fraction of burnt gas
	PeakBar  float64
	Spark    Spark
	RPM      float64 // mean over the cycle
}

// Event is something that happened beside the firings: an action, a code, a
// stall.
type Event struct {
	T    float64
	What string
}

func (t *Truth) event(e *Engine, what string) {
	t.Events = append(t.Events, Event{e.now, what})
}

func (t *Truth) firing(e *Engine, c *cylinder) {
	if c.topAt == 0 || e.now-c.topAt > 5 {
		return
	}
	t.Firings = append(t.Firings, Firing{
		Cylinder: c.no, T: c.topAt, Missed: c.burnt.Misfire, WorkJ: c.work, HeatJ: c.burnt.HeatJ,
		AirG: c.air * 1000, Lambda: c.burnt.Lambda, Residual: c.burnt.Residual, PeakBar: c.peakPa / 1e5,
		Spark: c.spark, RPM: 120 / max(e.now-c.cycleStart, 1e-3),
	})
}

// Energy is the energy account since the recording began, J.
type Energy struct {
	Gas     float64 // work of the gas on the pistons
	Outer   float64 // starter less friction, accessories, brake and road
	Kinetic float64
}

func (e *Engine) book(work, outer float64) {
	e.books.Gas += work
	e.books.Outer += outer
}

// Books is the energy account.
func (e *Engine) Books() Energy {
	out := e.books
	out.Kinetic = 0.5 * e.inertia[e.angle] * e.omega * e.omega
	return out
}
