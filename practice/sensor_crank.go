package practice

import (
	"math"
	"sort"
)

// edgeSensor gives the times of crank and cam edges.
type edgeSensor struct {
	crankAt, camAt []float64 // over the cycle, ascending
	crankIn, camIn int       // index of the next edge
	jitter         dice
	crankJ, camJ   float64
	crank, cam     []float64
}

func newEdgeSensor(e *Engine, crank, cam bool) *edgeSensor {
	s := &edgeSensor{jitter: newDice(e.cfg.Seed, "edges"), crankJ: e.cfg.Wheel.JitterSeconds, camJ: e.cfg.Cam.JitterSeconds}
	if crank {
		s.crankAt = wheelCycle(e)
	}
	if cam {
		for _, a := range e.cfg.Cam.Edges {
			s.camAt = append(s.camAt, math.Mod(float64(a)+e.plant.camLate[0], cycle))
		}
		sort.Float64s(s.camAt)
	}
	s.crankIn = sort.SearchFloat64s(s.crankAt, float64(e.angle))
	s.camIn = sort.SearchFloat64s(s.camAt, float64(e.angle))
	return s
}

// wheelCycle lists the wheel's mark angles over two turns.
func wheelCycle(e *Engine) []float64 {
	turn := e.cfg.Wheel.angles(newDice(e.cfg.Seed, "wheel"))
	out := append([]float64{}, turn...)
	for _, a := range turn {
		out = append(out, a+360)
	}
	return out
}

func (s *edgeSensor) step(e *Engine) {
	s.crank = s.pass(e, s.crankAt, &s.crankIn, s.crankJ, s.crank)
	s.cam = s.pass(e, s.camAt, &s.camIn, s.camJ, s.cam)
}

func (s *edgeSensor) pass(e *Engine, at []float64, next *int, jitter float64, out []float64) []float64 {
	for len(at) > 0 {
		if *next == len(at) {
			if e.angle+1 < cycle {
				return out
			}
			*next = 0
			return out
		}
		into := at[*next] - float64(e.angle)
		if into >= 1 {
			return out
		}
		if into >= 0 {
			out = append(out, e.now+into*e.dt+jitter*s.jitter.normal())
		}
		*next++
	}
	return out
}

func (s *edgeSensor) take() (crank, cam []float64) {
	crank, cam = s.crank, s.cam
	s.crank, s.cam = nil, nil
	return crank, cam
}

// CrankTrace is the crank sensor as an analogue signal: a Hall sensor switches
// between 0 and 5 V; an inductive one gives a voltage that grows with speed.
type CrankTrace struct {
	Hz        float64
	Inductive bool
}

type crankTracer struct {
	tape
	inductive bool
	shape     []float32 // over one turn, 0.1° steps
	noise     dice
}

func newCrankTracer(e *Engine, want CrankTrace) *crankTracer {
	t := &crankTracer{tape: newTape(e, want.Hz, "V"), inductive: want.Inductive, noise: newDice(e.cfg.Seed, "crank trace")}
	t.shape = wheelShape(e.cfg.Wheel.angles(newDice(e.cfg.Seed, "wheel")), want.Inductive)
	return t
}

// wheelShape is the signal of one turn. Hall: low for two fifths of a tooth
// pitch from each mark. Inductive: the slope of a smooth tooth, whose falling
// zero crossing is the mark.
func wheelShape(marks []float64, inductive bool) []float32 {
	out := make([]float32, 3600)
	pitch := 360.0
	for i, m := range marks {
		if i > 0 {
			pitch = min(pitch, m-marks[i-1])
		}
	}
	for i := range out {
		x := float64(i)/10 + 0.05
		if !inductive {
			out[i] = 5
		}
		for _, m := range marks {
			d := math.Remainder(x-m, 360)
			switch w := pitch * 0.22; {
			case !inductive && d >= 0 && d < 0.4*pitch:
				out[i] = 0.2
			case inductive && math.Abs(d) < 4*w:
				out[i] += float32(-d / w * math.Exp(0.5-d*d/(2*w*w)))
			}
		}
	}
	return out
}

func (t *crankTracer) step(e *Engine) {
	n := t.due(e.now + e.dt)
	if n == 0 {
		return
	}
	scale := 1.0
	if t.inductive {
		scale = e.omega / 80 // about 1 V peak at idle; tens of volts at speed are usual (from memory)
	}
	for range n {
		into := ((t.zero + float64(t.next)/t.trace.Hz) - e.now) / e.dt
		i := int((float64(e.angle%360)+into)*10) % 3600
		t.put(float64(t.shape[max(i, 0)])*scale + 0.02*t.noise.hiss())
	}
}
