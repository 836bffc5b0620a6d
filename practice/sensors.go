package practice

import (
	"fmt"

	"halforder/engine"
)

// Sensors says what to record. The zero value records nothing but the truth.
type Sensors struct {
	Crank      bool         // times of the crank wheel's edges
	Cam        bool         // times of the cam edges
	CrankTrace *CrankTrace  // the crank sensor as an analogue signal
	Sound      *SoundSensor // a phone or microphone near the engine
	Phone      *PhoneSensor // acceleration of a phone lying on the engine
	Coil       *CoilSensor  // current clamp on coil feeds, probe on a primary
	Starter    *Sampling    // clamp on the battery lead, and battery voltage
	Pressure   *Indicator   // pressure transducer in place of a plug
	Bus        *BusSensor   // engine data as the computer answers them
	Gas        *GasSensor   // exhaust gas analyser
}

// Sampling is a plain rate.
type Sampling struct{ Hz float64 }

// Indicator is a pressure transducer in one cylinder.
type Indicator struct {
	Cylinder engine.Cylinder
	Hz       float64
}

// Everything is all sensors at usual rates for the layout.
func Everything() Sensors {
	return Sensors{
		Crank: true, Cam: true, CrankTrace: &CrankTrace{Hz: 50e3},
		Sound: &SoundSensor{Hz: 44100}, Phone: &PhoneSensor{Hz: 100}, Coil: &CoilSensor{Hz: 50e3},
		Starter: &Sampling{Hz: 2000}, Pressure: &Indicator{Cylinder: 1, Hz: 20e3},
		Bus: &BusSensor{PerSecond: 12}, Gas: &GasSensor{},
	}
}

func (s Sensors) check(c Config) error {
	for _, r := range s.rates() {
		if !(r.value >= r.least && r.value <= r.most) {
			return fmt.Errorf("practice: %s is %g, expected %g to %g", r.name, r.value, r.least, r.most)
		}
	}
	if s.Pressure != nil {
		if err := c.Layout.Check(s.Pressure.Cylinder); err != nil {
			return fmt.Errorf("practice: pressure transducer: %w", err)
		}
	}
	if s.Coil != nil {
		for _, cyl := range s.Coil.Cylinders {
			if err := c.Layout.Check(cyl); err != nil {
				return fmt.Errorf("practice: current clamp: %w", err)
			}
		}
	}
	if s.Gas != nil && (s.Gas.Bank < 0 || s.Gas.Bank > len(c.Layout.Banks())) {
		return fmt.Errorf("practice: gas probe: bank %d does not exist, this engine has %d", s.Gas.Bank, len(c.Layout.Banks()))
	}
	return nil
}

func (s Sensors) rates() (out []limits) {
	add := func(name string, hz, least, most float64) {
		out = append(out, limits{name + " in Hz", hz, least, most})
	}
	if s.CrankTrace != nil {
		add("crank trace rate", s.CrankTrace.Hz, 1000, 1e6)
	}
	if s.Sound != nil {
		add("sound rate", s.Sound.Hz, 8000, 96000)
	}
	if s.Phone != nil {
		add("phone acceleration rate", s.Phone.Hz, 10, 1000)
	}
	if s.Coil != nil {
		add("coil trace rate", s.Coil.Hz, 5000, 2e6)
	}
	if s.Starter != nil {
		add("starter current rate", s.Starter.Hz, 50, 1e5)
	}
	if s.Pressure != nil {
		add("pressure rate", s.Pressure.Hz, 100, 1e6)
	}
	if s.Bus != nil {
		add("bus answers per second", s.Bus.PerSecond, 0.1, 200)
	}
	return out
}

// fits says so when the samples of a recording would fill the memory.
func (s Sensors) fits(seconds float64) error {
	var perSecond float64
	for _, r := range s.rates() {
		perSecond += r.value
	}
	const most, bytes = 2e9, 4
	if need := perSecond * seconds * bytes; need > most {
		return fmt.Errorf("practice: %g s with these sensors need %.1f GB, at most %.0f are allowed: record less or slower", seconds, need/1e9, most/1e9)
	}
	return nil
}

// Trace is an evenly sampled signal; sample i was taken at Start + i/Hz.
type Trace struct {
	Hz    float64
	Unit  string
	Start float64 // s
	X     []float32
}

// At is the time of sample i in s.
func (t Trace) At(i int) float64 { return t.Start + float64(i)/t.Hz }

// Recording is what the sensors gave. Fields of sensors not asked for are
// empty. Times are in seconds on one clock.
type Recording struct {
	Start, End float64
	Crank, Cam []float64

	CrankTrace           Trace // volts
	Sound                Trace // full scale is ±1
	Phone                []Shake
	CoilAmps, CoilVolts  Trace // sum of the clamped feeds; primary of the first clamped cylinder
	StarterAmps, Battery Trace
	Pressure             Trace // bar, absolute but for the transducer's unknown offset
	Bus                  []BusValue
	Computer             *State // codes, counters and readiness at the end; with the bus only
	Gas                  []Gas
}

// sensors holds the running sensors; nil ones are off.
type sensors struct {
	edges *edgeSensor
	trace *crankTracer
	sound *soundMaker
	phone *phoneMaker
	coil  *coilTracer
	start *starterTracer
	press *pressureTracer
	bus   *busPoller
	gas   *gasProbe
	rec   Recording
}

func newSensors(e *Engine, want Sensors) *sensors {
	s := &sensors{rec: Recording{Start: e.now}}
	if want.Crank || want.Cam {
		s.edges = newEdgeSensor(e, want.Crank, want.Cam)
	}
	if want.CrankTrace != nil {
		s.trace = newCrankTracer(e, *want.CrankTrace)
	}
	if want.Sound != nil {
		s.sound = newSoundMaker(e, *want.Sound)
	}
	if want.Phone != nil {
		s.phone = newPhoneMaker(e, *want.Phone)
	}
	if want.Coil != nil {
		s.coil = newCoilTracer(e, *want.Coil)
	}
	if want.Starter != nil {
		s.start = newStarterTracer(e, want.Starter.Hz)
	}
	if want.Pressure != nil {
		s.press = newPressureTracer(e, *want.Pressure)
	}
	if want.Bus != nil {
		s.bus = newBusPoller(e, *want.Bus)
	}
	if want.Gas != nil {
		s.gas = newGasProbe(e, *want.Gas)
	}
	return s
}

// step is called after each degree; e.now is still its beginning, was the
// speed there.
func (s *sensors) step(e *Engine, was float64) {
	if s.edges != nil && e.omega > 0 {
		s.edges.step(e)
	}
	if s.trace != nil {
		s.trace.step(e)
	}
	if s.sound != nil {
		s.sound.step(e)
	}
	if s.phone != nil {
		s.phone.step(e)
	}
	if s.start != nil {
		s.start.step(e)
	}
	if s.press != nil {
		s.press.step(e)
	}
}

func (s *sensors) spark(e *Engine, c *cylinder) {
	if s.coil != nil {
		s.coil.spark(e, c)
	}
}

func (s *sensors) tick(e *Engine) {
	if s.bus != nil {
		s.bus.tick(e)
	}
	if s.gas != nil {
		s.gas.tick(e)
	}
}

// take hands over what was recorded so far and goes on recording.
func (s *sensors) take(e *Engine) Recording {
	out := s.rec
	out.End = e.now
	s.rec = Recording{Start: e.now}
	if s.edges != nil {
		out.Crank, out.Cam = s.edges.take()
	}
	if s.trace != nil {
		out.CrankTrace = s.trace.take()
	}
	if s.sound != nil {
		out.Sound = s.sound.take()
	}
	if s.phone != nil {
		out.Phone = s.phone.take()
	}
	if s.coil != nil {
		out.CoilAmps, out.CoilVolts = s.coil.take(e)
	}
	if s.start != nil {
		out.StarterAmps, out.Battery = s.start.take()
	}
	if s.press != nil {
		out.Pressure = s.press.take()
	}
	if s.bus != nil {
		out.Bus = s.bus.take()
		state := e.State()
		out.Computer = &state
	}
	if s.gas != nil {
		out.Gas = s.gas.take()
	}
	return out
}

// tape collects samples of one trace.
type tape struct {
	trace Trace
	next  int // index of the next sample since the beginning of the recording
	zero  float64
}

func newTape(e *Engine, hz float64, unit string) tape {
	return tape{trace: Trace{Hz: hz, Unit: unit, Start: e.now}, zero: e.now}
}

// due is how many samples fall before t.
func (t *tape) due(until float64) int {
	return max(int((until-t.zero)*t.trace.Hz)-t.next+1, 0)
}

func (t *tape) put(x float64) {
	t.trace.X = append(t.trace.X, float32(x))
	t.next++
}

func (t *tape) take() Trace {
	out := t.trace
	t.trace.X = nil
	t.trace.Start = t.zero + float64(t.next)/t.trace.Hz
	return out
}
