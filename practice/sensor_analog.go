package practice

// starterTracer samples the battery lead: current and voltage.
type starterTracer struct {
	amps, volts tape
	noise       dice
	last        float64
}

func newStarterTracer(e *Engine, hz float64) *starterTracer {
	return &starterTracer{amps: newTape(e, hz, "A"), volts: newTape(e, hz, "V"), noise: newDice(e.cfg.Seed, "starter trace")}
}

func (t *starterTracer) step(e *Engine) {
	n := t.amps.due(e.now + e.dt)
	for range n {
		a := e.starterA
		if t.last == 0 && a > 0 {
			a *= 1.8 // inrush (judgement)
		}
		t.last = e.starterA
		t.amps.put(round(a+1.5*t.noise.hiss(), 0.1))
		t.volts.put(round(e.volts-0.002*(a-e.starterA)+0.01*t.noise.hiss(), 1e-3))
	}
}

func (t *starterTracer) take() (amps, volts Trace) { return t.amps.take(), t.volts.take() }

// pressureTracer samples one cylinder. The transducer does not know absolute
// pressure: its zero is off by some tenths of a bar.
type pressureTracer struct {
	tape
	c      *cylinder
	noise  dice
	offset float64
	was    float64
}

func newPressureTracer(e *Engine, want Indicator) *pressureTracer {
	t := &pressureTracer{tape: newTape(e, want.Hz, "bar"), c: e.byNumber[want.Cylinder-1], noise: newDice(e.cfg.Seed, "pressure trace")}
	t.offset = 0.15 * t.noise.normal()
	t.was = t.c.p
	return t
}

func (t *pressureTracer) step(e *Engine) {
	for range t.due(e.now + e.dt) {
		into := clamp(((t.zero+float64(t.next)/t.trace.Hz)-e.now)/e.dt, 0, 1)
		p := t.was + (t.c.p-t.was)*into
		t.put(round(p/1e5+t.offset+0.02*t.noise.hiss(), 1e-3))
	}
	t.was = t.c.p
}
