package practice

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"halforder/engine"
)

func TestBadConfigsSayOneClearLine(t *testing.T) {
	for name, spoil := range map[string]func(*Config){
		"no layout":       func(c *Config) { c.Layout = engine.Layout{} },
		"idle":            func(c *Config) { c.IdleRPM = 50 },
		"NaN":             func(c *Config) { c.Build.BoreM = math.NaN() },
		"rod":             func(c *Config) { c.Build.RodM = 0.01 },
		"compression":     func(c *Config) { c.Build.Compression = 1 },
		"altitude":        func(c *Config) { c.Air.AltitudeM = 9000 },
		"ignition":        func(c *Config) { c.Ignition = "flint" },
		"wheel":           func(c *Config) { c.Wheel = Wheel{Teeth: 60, Missing: 50} },
		"wheel and marks": func(c *Config) { c.Wheel.Marks = []engine.CrankDeg{1} },
		"marks order":     func(c *Config) { c.Wheel = Wheel{Marks: []engine.CrankDeg{50, 20}} },
		"cam":             func(c *Config) { c.Cam.Edges = []engine.CrankDeg{900} },
		"vehicle":         func(c *Config) { c.Vehicle.Ratios = nil },
		"fault kind":      func(c *Config) { c.Faults = []Fault{{Kind: "gremlin"}} },
		"fault cylinder":  func(c *Config) { c.Faults = []Fault{{Kind: "coil-open", Cylinder: 7, Severity: 1}} },
		"fault bank":      func(c *Config) { c.Faults = []Fault{{Kind: "cam-timing", Group: 2, Severity: 1}} },
		"fault severity":  func(c *Config) { c.Faults = []Fault{{Kind: "plenum-leak", Severity: 2}} },
		"fault NaN":       func(c *Config) { c.Faults = []Fault{{Kind: "plenum-leak", Severity: math.NaN()}} },
		"random and burst": func(c *Config) {
			c.Faults = []Fault{{Kind: "plenum-leak", Severity: 1, Chance: 0.5, OnSec: 1, OffSec: 1}}
		},
	} {
		c := testConfig(t, "i4")
		spoil(&c)
		_, err := New(c, Sensors{})
		if err == nil || strings.Contains(err.Error(), "\n") || len(err.Error()) < 20 {
			t.Errorf("%s: %v", name, err)
		}
	}
	odd := testConfig(t, "i5")
	odd.Ignition = WastedSpark
	if _, err := New(odd, Sensors{}); err == nil {
		t.Error("wasted spark on five cylinders")
	}
	if _, _, err := Run(testConfig(t, "i4"), Watch(7000), Everything()); err == nil || !strings.Contains(err.Error(), "GB") {
		t.Errorf("two hours of everything: %v", err)
	}
	for _, want := range []Sensors{{Sound: &SoundSensor{Hz: 1}}, {Pressure: &Indicator{Cylinder: 9, Hz: 1000}}, {Coil: &CoilSensor{Hz: 5e4, Cylinders: []engine.Cylinder{0}}}, {Gas: &GasSensor{Bank: 3}}} {
		if _, err := New(testConfig(t, "i4"), want); err == nil {
			t.Errorf("sensors %+v were taken", want)
		}
	}
}

func TestBadScripts(t *testing.T) {
	for _, text := range []string{"", "5", "x start\n9 end", "5 start\n3 stop\n9 end", "0 start", "0 end\n5 start", "0 start\n9999999 end", "NaN start\n9 end", "-1 start\n2 end"} {
		if s, err := ParseScript(text); err == nil {
			t.Errorf("script %q became %+v", text, s)
		}
	}
	for _, action := range []string{"dance", "start", "unplug coil", "unplug coil 9", "unplug halo 1", "reconnect coil 1", "swap coil 1 2", "renew coil 1", "mend gremlin 1", "mend coil-open 1",
		"hold 90000", "hold x", "pedal -5", "gear 9", "gear 1.5", "cruise 50", "crank 5", "spray maybe", "clear engine", "key sideways"} {
		_, _, err := Run(testConfig(t, "i4"), Watch(1).Then(0.5, Action(action)), Sensors{})
		if err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("action %q on a running engine: %v", action, err)
		}
	}
	if _, _, err := Run(testConfig(t, "i4"), Watch(5).Then(1, "unplug coil 1").Then(2, "unplug coil 1"), Sensors{}); err == nil {
		t.Error("one coil was unplugged twice")
	}
}

func TestFaultTextRoundTrips(t *testing.T) {
	for _, text := range []string{"coil-open@3", "coil-weak@2:0.8,hot", "coil-wiring@4:1,bursts=2/10", "plug-gap@6:0.7,load,random=0.2", "cam-timing@bank1:0.6", "plenum-leak:0.5", "coil-feed"} {
		f, err := ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := ParseFault(f.String()); err != nil || again != f {
			t.Errorf("%q became %+v, then %+v (%v)", text, f, again, err)
		}
	}
}

func FuzzParseFault(f *testing.F) {
	f.Add("coil-wiring@4:1,bursts=2/10")
	f.Add("cam-timing@bank2:0.6,cold,random=0.1")
	f.Fuzz(func(t *testing.T, text string) {
		fault, err := ParseFault(text)
		if err != nil {
			return
		}
		if again, err := ParseFault(fault.String()); err != nil || again != fault {
			t.Errorf("%q: %+v became %+v (%v)", text, fault, again, err)
		}
	})
}

func FuzzScript(f *testing.F) {
	f.Add("0 stop\n1 swap coil 1 3\n2 start\n3 unplug injector 2\n4 end")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseScript(text)
		if err != nil || s.Length > 20 {
			return
		}
		l, err := engine.Parse("i3")
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := Run(Defaults(l), s, Sensors{Crank: true}); err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("more than one line: %v", err)
		}
	})
}

// Intermittency: a random chance hits that share of firings, bursts that share
// of time, regimes only their regime.
func TestRegimesAndIntermittency(t *testing.T) {
	share := func(script string, from, to float64, spoil func(*Config), fault string) float64 {
		c := testConfig(t, "i4", fault)
		if spoil != nil {
			spoil(&c)
		}
		return missShare(mustRun(t, c, script), from, to)[2]
	}
	near(t, "random", share("60 end", 0, 60, nil, "coil-open@2:1,random=0.3"), 0.3, 0.06)
	near(t, "bursts", share("300 end", 0, 300, nil, "coil-open@2:1,bursts=2/6"), 0.25, 0.12)
	near(t, "wet in the dry", share("10 end", 0, 10, nil, "boot-leak@2:1,wet"), 0, 0)
	near(t, "wet", share("5 spray on\n15 end", 6, 15, nil, "boot-leak@2:1,wet"), 1, 0.02)
	near(t, "cold when warm", share("10 end", 0, 10, nil, "coil-open@2:1,cold"), 0, 0)
	near(t, "cold", share("10 end", 0, 10, func(c *Config) { c.CoolantC, c.Air.TempC = 20, 20 }, "coil-open@2:1,cold"), 1, 0)
	near(t, "hot", share("10 end", 0, 10, nil, "coil-open@2:1,hot"), 1, 0.01)
	near(t, "hot when cold", share("10 end", 0, 10, func(c *Config) { c.CoolantC, c.Air.TempC = 20, 20 }, "coil-open@2:1,hot"), 0, 0)
	near(t, "load at idle", share("10 end", 0, 10, nil, "coil-open@2:1,load"), 0, 0)
	near(t, "load", share("0 hold 1800\n6 gear 3\n6 pedal 100\n12 end", 8, 12, nil, "coil-open@2:1,load"), 1, 0.02)
	near(t, "idle held up", share("0 hold 3000\n10 end", 6, 10, nil, "coil-open@2:1,idle"), 0, 0)
}

// Warm-up, altitude, road: the engine goes through the phases.
func TestPhases(t *testing.T) {
	c := testConfig(t, "i4")
	c.Running, c.CoolantC, c.Air = false, -10, Air{AltitudeM: 1500, TempC: -10}
	e := engineOf(t, c, Sensors{})
	do(t, e, "start")
	e.RunUntil(8)
	if s := e.State(); !s.Running || s.RPM < 950 || s.RPM > 1700 {
		t.Fatalf("cold idle at 1500 m: %+v", s)
	}
	e.RunUntil(1200)
	if s := e.State(); s.CoolantC < 80 || s.CoolantC > 95 || math.Abs(float64(s.RPM)-750) > 60 {
		t.Errorf("after twenty minutes: %.0f °C, %.0f rpm", s.CoolantC, float64(s.RPM))
	}
	do(t, e, "hold 2000")
	e.RunUntil(1206)
	do(t, e, "gear 4", "cruise 80")
	e.RunUntil(1240)
	near(t, "road speed in km/h", e.driver.kmh(), 80, 4)
	do(t, e, "release")
	e.RunUntil(1242)
	if fuel := e.computer.wanted(e, e.cylinders[0]); fuel != 0 {
		t.Error("no fuel cut on overrun")
	}
	do(t, e, "gear 0")
	e.RunUntil(1250)
	do(t, e, "pedal 60")
	e.RunUntil(1250.7)
	if rpm := e.State().RPM; rpm < 2500 {
		t.Errorf("free rev reaches %.0f rpm in 0.7 s", float64(rpm))
	}
	do(t, e, "pedal 0", "stop")
	e.RunUntil(1260)
	if e.State().RPM != 0 {
		t.Error("the engine does not stop")
	}
}

// The live clock runs factor times faster than the beat it is given.
func TestLive(t *testing.T) {
	l, err := NewLive(engineOf(t, testConfig(t, "i4"), Sensors{Crank: true}), 10)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	beat, done := make(chan time.Time), make(chan struct{})
	var edges int
	go func() {
		l.Run(ctx, beat, func(r Recording, _ State) { edges += len(r.Crank) })
		close(done)
	}()
	start := time.Unix(0, 0)
	for i := range 11 {
		beat <- start.Add(time.Duration(i) * 100 * time.Millisecond)
		if i == 5 {
			if err := l.Do("unplug injector 2"); err != nil {
				t.Error(err)
			}
		}
	}
	for l.State().T < 9.9 {
		time.Sleep(time.Millisecond)
	}
	cancel()
	<-done
	near(t, "engine seconds after one second", l.State().T, 10, 0.1)
	near(t, "edges", float64(edges), 58*740/60*10, 600)
	missed := missShare(l.Truth(), 6, 10)
	if missed[2] < 0.9 || missed[1] > 0.1 {
		t.Errorf("misses %v after cylinder 2 was unplugged live", missed)
	}
	if _, err := NewLive(nil, -1); err == nil {
		t.Error("a clock that runs backwards")
	}
}
