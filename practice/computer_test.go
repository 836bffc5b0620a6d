package practice

import (
	"slices"
	"strings"
	"testing"
)

func engineOf(t testing.TB, c Config, want Sensors) *Engine {
	t.Helper()
	e, err := New(c, want)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func codesOf(e *Engine) (pending, confirmed, permanent []string) {
	for _, c := range e.State().Codes {
		if c.Pending {
			pending = append(pending, c.Code)
		}
		if c.Confirmed {
			confirmed = append(confirmed, c.Code)
		}
		if c.Permanent {
			permanent = append(permanent, c.Code)
		}
	}
	return pending, confirmed, permanent
}

// drive is one driving cycle of a minute at idle.
func drive(t testing.TB, e *Engine, seconds float64) {
	t.Helper()
	do(t, e, "start")
	e.RunUntil(e.Now() + seconds)
	do(t, e, "stop")
	e.RunUntil(e.Now() + 5)
}

// Pending at first, confirmed in the second driving cycle, lamp out after
// three good ones, permanent only until the computer is satisfied (13 CCR
// 1968.2 (d)(2.5); three good trips: makers' texts).
func TestCodesRipenAndFade(t *testing.T) {
	c := testConfig(t, "v8-18436572", "coil-open@2")
	e := engineOf(t, c, Sensors{})
	e.RunUntil(90)
	pending, confirmed, _ := codesOf(e)
	if !slices.Contains(pending, "P0352") || len(confirmed) > 0 || e.State().Lamp != LampOff {
		t.Fatalf("first drive: pending %v, confirmed %v, lamp %s", pending, confirmed, e.State().Lamp)
	}
	do(t, e, "stop")
	e.RunUntil(e.Now() + 5)
	drive(t, e, 30)
	_, confirmed, permanent := codesOf(e)
	if !slices.Contains(confirmed, "P0352") || !slices.Contains(permanent, "P0352") || e.State().Lamp != LampSteady {
		t.Fatalf("second drive: confirmed %v, permanent %v, lamp %s", confirmed, permanent, e.State().Lamp)
	}
	do(t, e, "renew coil 2", "clear codes")
	if _, confirmed, permanent = codesOf(e); len(confirmed) > 0 || !slices.Contains(permanent, "P0352") {
		t.Errorf("after clearing: confirmed %v, permanent %v", confirmed, permanent)
	}
	if e.State().Readiness.Catalyst || e.State().Readiness.Misfire {
		t.Error("clearing did not reset readiness")
	}
	for range 3 {
		drive(t, e, 30)
	}
	if _, _, permanent = codesOf(e); len(permanent) > 0 || e.State().Lamp != LampOff {
		t.Errorf("after three good drives: permanent %v, lamp %s", permanent, e.State().Lamp)
	}
}

func TestFreezeFrame(t *testing.T) {
	e := engineOf(t, testConfig(t, "v6-142536", "injector-dead@4"), Sensors{})
	e.RunUntil(30)
	for _, c := range e.State().Codes {
		if c.Code == "P0204" {
			near(t, "speed in the frame", float64(c.Frame.RPM), 750, 200)
			near(t, "coolant in the frame", c.Frame.CoolantC, 88, 5)
			if len(c.Frame.LongPercent) != 2 {
				t.Errorf("%d long trims for two banks", len(c.Frame.LongPercent))
			}
			return
		}
	}
	t.Errorf("no P0204 in %v", e.State().Codes)
}

// One dead cylinder of four misses 25 %: above the idle limit, the lamp
// flashes, the counters name the cylinder, and a computer so built cuts its
// injector, after which the lamp is steady.
func TestCatalystMisfireFlashesAndCuts(t *testing.T) {
	c := testConfig(t, "i4", "coil-open@3")
	c.Computer.InjectorCut = true
	e := engineOf(t, c, Sensors{})
	for e.State().LastMisfires200[2] == 0 && e.Now() < 40 {
		e.RunUntil(e.Now() + 0.1)
	}
	s := e.State()
	if s.Lamp != LampFlashing || len(s.InjectorsCut) != 1 || s.InjectorsCut[0] != 3 {
		t.Fatalf("at %.1f s: lamp %s, cut %v, counts %v", s.T, s.Lamp, s.InjectorsCut, s.LastMisfires200)
	}
	near(t, "misfires of cylinder 3 in 200 turns", float64(s.LastMisfires200[2]), 100, 8)
	near(t, "all others", float64(sum(s.LastMisfires200)-s.LastMisfires200[2]), 0, 8)
	hot := s.CatalystC[0]
	e.RunUntil(e.Now() + 60)
	if now := e.State().CatalystC[0]; now > hot+10 {
		t.Errorf("catalyst went on from %.0f to %.0f °C after the injector was cut", hot, now)
	}
	if names := eventNames(e); !strings.Contains(names, "computer cuts injector 3") {
		t.Errorf("truth does not tell of the cut: %s", names)
	}
}

func eventNames(e *Engine) string {
	var names []string
	for _, ev := range e.truth.Events {
		names = append(names, ev.What)
	}
	return strings.Join(names, "; ")
}

// A V8 with one dead cylinder misses 12.5 %: below the idle limit, so the lamp
// does not flash (derived from makers' rates).
func TestDeadCylinderOfEightDoesNotFlash(t *testing.T) {
	e := engineOf(t, testConfig(t, "v8-18436572", "injector-dead@5"), Sensors{})
	for e.Now() < 60 {
		e.RunUntil(e.Now() + 1)
		if e.State().Lamp == LampFlashing {
			t.Fatalf("lamp flashes at %.0f s, counts %v", e.Now(), e.State().LastMisfires200)
		}
	}
}

// The oxygen sensor calls a dead cylinder lean whether spark or fuel is
// missing; apparent lambda 1.33 on a four, 1.5 on a bank of three; the other
// bank stays level (derived).
func TestOxygenSensorCallsADeadCylinderLean(t *testing.T) {
	for _, fault := range []string{"coil-open@2", "injector-dead@2"} {
		for layout, want := range map[string]float64{"i4": 4. / 3, "v6-142536": 1.5} {
			c := testConfig(t, layout, fault)
			c.CoolantC = 30 // open loop, so that lambda shows unmasked
			e := engineOf(t, c, Sensors{})
			e.RunUntil(5)
			var sensed, n float64
			for e.Now() < 15 {
				e.RunUntil(e.Now() + 0.01)
				sensed, n = sensed+1/e.gas[0].sensed, n+1
			}
			rich := 1 + 0.35*ramp(30, 50, -20)*ramp(e.computer.running, 60, 5)
			near(t, layout+" "+fault+" apparent lambda", rich*n/sensed, want, 0.13)
		}
	}
	e := engineOf(t, testConfig(t, "v6-142536", "coil-open@2"), Sensors{})
	e.RunUntil(40)
	one, two := e.trimPercent(0, false)+e.trimPercent(0, true), e.trimPercent(1, false)+e.trimPercent(1, true)
	if one < 25 || two > 10 || two < -10 {
		t.Errorf("trims %.0f and %.0f %%, expected bank 1 pegged and bank 2 level", one, two)
	}
}

// Gas chart of an exhaust-parts maker [healthy with catalyst CO₂ 14.5–16, O₂ below
// 0.35 %; one dead of four: CO₂ down by a quarter, O₂ near 5.2 %]; spark and
// fuel told apart by HC.
func TestExhaustGas(t *testing.T) {
	read := func(warmup float64, before bool, faults ...string) Gas {
		e := engineOf(t, testConfig(t, "i4", faults...), Sensors{Gas: &GasSensor{BeforeCatalyst: before}})
		e.RunUntil(warmup)
		gas := e.Take().Gas
		var mean Gas
		last := gas[len(gas)-5:]
		for _, g := range last {
			mean.CO2, mean.CO, mean.O2, mean.HCppm = mean.CO2+g.CO2/5, mean.CO+g.CO/5, mean.O2+g.O2/5, mean.HCppm+g.HCppm/5
		}
		return mean
	}
	healthy := read(30, false)
	if healthy.CO2 < 14.5 || healthy.CO2 > 16 || healthy.O2 > 0.5 || healthy.CO > 0.6 || healthy.HCppm > 60 {
		t.Errorf("healthy behind the catalyst: %+v", healthy)
	}
	spark, fuel := read(14, true, "coil-open@3"), read(14, true, "injector-dead@3")
	t.Logf("healthy %+v; no spark %+v; no fuel %+v", healthy, spark, fuel)
	near(t, "O₂ without spark", spark.O2, 5.2, 1.2)
	near(t, "CO₂ without fuel, of healthy", fuel.CO2/healthy.CO2, 0.75, 0.1)
	if spark.HCppm < 2000 || fuel.HCppm > 0.25*spark.HCppm {
		t.Errorf("HC %.0f ppm without spark, %.0f without fuel", spark.HCppm, fuel.HCppm)
	}
}
