package practice

import (
	"fmt"

	"halforder/engine"
)

// Config says which engine to practise on. Start from [Defaults] and change
// what matters; [New] checks the whole.
type Config struct {
	Layout engine.Layout
	Seed   uint64
	Build  Build
	Air    Air
	Spread Spread

	IdleRPM  engine.RPM // warm target of the idle control
	CoolantC float64    // coolant temperature at the beginning
	Running  bool       // begin idling and settled instead of standing with the key off

	Ignition Ignition
	Computer Computer
	Vehicle  Vehicle
	Wheel    Wheel
	Cam      CamWheel
	Faults   []Fault
}

// Build is the mechanical engine. Lengths in metres, masses in kilograms.
type Build struct {
	BoreM, StrokeM, RodM float64
	Compression          float64 // geometric ratio
	PistonKg             float64 // reciprocating mass of one cylinder
	FlywheelKgM2         float64 // everything that turns with the crank
	ManifoldM3           float64 // plenum and runners
	ExhaustValveOpens    int     // crank degrees after firing top dead centre
	IntakeValveCloses    int     // crank degrees after firing top dead centre, 540…720
	LeadM                float64 // exhaust path difference between neighbouring cylinders
}

// Spread is what differs in a healthy engine.
type Spread struct {
	CylinderAir  float64 // deviation of filling between cylinders, fraction
	CylinderFuel float64 // deviation of injector flow, fraction
	BurnStart    float64 // cycle-to-cycle deviation of the burn delay, crank degrees at idle
	BurnLength   float64 // cycle-to-cycle deviation of burn duration, fraction at idle
	Efficiency   float64 // cycle-to-cycle deviation of released heat, fraction at idle
}

// Ignition is how sparks are made.
type Ignition string

// The kinds of ignition the engine can be built with.
const (
	CoilOnPlug  Ignition = "coil-on-plug"
	WastedSpark Ignition = "wasted-spark" // one coil for each companion pair
)

// Computer chooses what the engine computer does.
type Computer struct {
	InjectorCut  bool // switches off the injector of a cylinder that misses at a rate that hurts the catalyst
	AirByMap     bool // measures air by manifold pressure instead of a mass meter
	DriverPairs  bool // a shorted injector takes its driver partner down too
	OpenLoopIdle bool // holds throttle and spark at idle: the cut-out drop is not hidden
}

// Vehicle is the car for road loads.
type Vehicle struct {
	MassKg, WheelM float64
	Ratios         []float64 // engine turns per wheel turn, first gear first
	DragM2         float64   // drag coefficient times front area
	Rolling        float64   // rolling resistance, fraction of weight
}

// Defaults is a healthy, warm, idling engine of the layout at sea level and
// 20 °C: half a litre a cylinder, 60−2 crank wheel.
func Defaults(l engine.Layout) Config {
	return Config{
		Layout: l, Seed: 1, Build: defaultBuild(l), Air: Air{TempC: 20},
		// Spread: 3–5 % between healthy cylinders (trade practice); burn spread
		// gives 5–8 % cycle-to-cycle at idle (Heywood 9.4, from memory).
		Spread:  Spread{CylinderAir: 0.012, CylinderFuel: 0.012, BurnStart: 2.2, BurnLength: 0.07, Efficiency: 0.015},
		IdleRPM: 750, CoolantC: 88, Running: true, Ignition: CoilOnPlug,
		Vehicle: Vehicle{MassKg: 1400, WheelM: 0.31, Ratios: []float64{13.5, 7.6, 5.1, 3.8, 3.0}, DragM2: 0.66, Rolling: 0.011}, // judgement: a middling car
		Wheel:   Wheel{Teeth: 60, Missing: 2, GapDeg: 84, SpacingDeg: 0.02, JitterSeconds: 0.5e-6},
		Cam:     CamWheel{Edges: []engine.CrankDeg{300}, JitterSeconds: 2e-6},
	}
}

// defaultBuild is a middling engine. Inertia 0.085 kg·m² per litre gives the
// 0.6–0.7 s time constant of trade practice; an engine whose firings lie more
// than 240° apart gets a heavier flywheel, or it would not idle (judgement).
// The rest is from memory.
func defaultBuild(l engine.Layout) Build {
	n := max(l.N(), 1)
	apart := 240.0
	for k := range l.N() {
		apart = max(apart, float64(l.Interval(k)))
	}
	return Build{
		BoreM: 0.086, StrokeM: 0.086, RodM: 0.143, Compression: 10, PistonKg: 0.5,
		FlywheelKgM2: 0.0425 * float64(n) * apart / 240, ManifoldM3: 0.75e-3 * float64(max(n, 2)),
		ExhaustValveOpens: 135, IntakeValveCloses: 590, LeadM: 0.09,
	}
}

// Check says the first thing wrong with the config, in one line.
func (c Config) Check() error {
	if !c.Layout.Valid() {
		return fmt.Errorf("practice: no engine layout given: use engine.Parse, for instance with i4")
	}
	for _, r := range c.ranges() {
		if !(r.value >= r.least && r.value <= r.most) {
			return fmt.Errorf("practice: %s is %g, expected %g to %g", r.name, r.value, r.least, r.most)
		}
	}
	if c.Ignition != CoilOnPlug && c.Ignition != WastedSpark {
		return fmt.Errorf("practice: ignition %q is unknown, expected %s or %s", c.Ignition, CoilOnPlug, WastedSpark)
	}
	if c.Ignition == WastedSpark && 2*len(c.Layout.CompanionPairs()) != c.Layout.N() {
		return fmt.Errorf("practice: wasted spark needs every cylinder to have a companion one turn away, %s has not", c.Layout)
	}
	for _, check := range []func() error{c.Wheel.check, c.Cam.check, c.Vehicle.check, c.checkFaults} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

type limits struct {
	name               string
	value, least, most float64
}

func (c Config) ranges() []limits {
	b, s := c.Build, c.Spread
	return []limits{
		{"idle speed in rpm", float64(c.IdleRPM), 400, 2500},
		{"coolant temperature in °C", c.CoolantC, -40, 120},
		{"air temperature in °C", c.Air.TempC, -40, 55},
		{"altitude in m", c.Air.AltitudeM, -450, 5000},
		{"bore in m", b.BoreM, 0.03, 0.2}, {"stroke in m", b.StrokeM, 0.03, 0.2},
		{"rod length over stroke", b.RodM / b.StrokeM, 1.2, 4},
		{"compression ratio", b.Compression, 6, 16},
		{"reciprocating mass in kg", b.PistonKg, 0, 3},
		{"crank inertia in kg·m²", b.FlywheelKgM2, 0.005, 5},
		{"manifold volume in m³", b.ManifoldM3, 2e-4, 0.05},
		{"exhaust valve opening in degrees", float64(b.ExhaustValveOpens), 90, 180},
		{"intake valve closing in degrees", float64(b.IntakeValveCloses), 540, 650},
		{"exhaust path step in m", b.LeadM, 0, 1},
		{"air spread", s.CylinderAir, 0, 0.2}, {"fuel spread", s.CylinderFuel, 0, 0.2},
		{"burn start spread in degrees", s.BurnStart, 0, 10},
		{"burn length spread", s.BurnLength, 0, 0.3}, {"efficiency spread", s.Efficiency, 0, 0.2},
	}
}

func (v Vehicle) check() error {
	if !(v.MassKg >= 100 && v.MassKg < 20000) || !(v.WheelM > 0.1 && v.WheelM < 1) || len(v.Ratios) == 0 {
		return fmt.Errorf("practice: vehicle needs a mass of 100–20000 kg, a wheel radius of 0.1–1 m and at least one gear ratio")
	}
	for _, r := range v.Ratios {
		if !(r > 0.5 && r < 60) {
			return fmt.Errorf("practice: vehicle gear ratio %g, expected 0.5 to 60 engine turns per wheel turn", r)
		}
	}
	if !(v.DragM2 >= 0 && v.DragM2 < 10) || !(v.Rolling >= 0 && v.Rolling < 0.2) {
		return fmt.Errorf("practice: vehicle drag area %g m² or rolling resistance %g is impossible", v.DragM2, v.Rolling)
	}
	return nil
}

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }

// ramp goes from 0 at x = from to 1 at x = to, which may lie below from.
func ramp(x, from, to float64) float64 { return clamp((x-from)/(to-from), 0, 1) }
