package practice

import (
	"math"
	"testing"
)

// Published orifice (FAA AC 43.13-1B 8-14) with isentropic
// flow solved by hand: leak over orifice area against loss (derived).
func TestLeakDownTable(t *testing.T) {
	master := math.Pi / 4 * AircraftTester.OrificeM * AircraftTester.OrificeM
	for loss, ratio := range map[float64]float64{5: 0.4331, 10: 0.6253, 12.5: 0.7067, 25: 1.0586, 50: 1.7220} {
		near(t, "loss", AircraftTester.LossPercent(ratio*master, 101352.9), loss, 0.05)
	}
}

func TestBenchReadings(t *testing.T) {
	if _, err := engineOf(t, testConfig(t, "i4"), Sensors{}).ReadPlug(2); err == nil {
		t.Error("a plug came out of a running engine")
	}
	c := testConfig(t, "i4", "coil-open@1", "plug-gap@2:0.5", "injector-dead@3", "exhaust-valve-leak@4:0.5", "plenum-leak:0.2")
	c.Running = false
	e := engineOf(t, c, Sensors{})
	if ohms, _ := e.CoilOhms(1); !math.IsInf(ohms, 1) {
		t.Errorf("open coil reads %g Ω", ohms)
	}
	plug, _ := e.ReadPlug(2)
	near(t, "gap", plug.GapMM, 1.6, 0.2)
	if jumps, _ := e.SparkTest(2, 25); !jumps {
		t.Error("a healthy coil does not jump 25 kV")
	}
	if jumps, _ := e.SparkTest(1, 25); jumps {
		t.Error("an open coil jumps")
	}
	leaky := testConfig(t, "i4", "boot-leak@2")
	leaky.Running = false
	if jumps, _ := engineOf(t, leaky, Sensors{}).SparkTest(2, 25); !jumps {
		t.Error("the tester sits at the coil, yet a leaking boot stops the spark")
	}
	if ohms, _ := e.InjectorOhms(3); !math.IsInf(ohms, 1) {
		t.Errorf("dead injector reads %g Ω", ohms)
	}
	percent, heard, _ := e.LeakDown(4)
	if percent < 30 || heard != "exhaust" {
		t.Errorf("6 mm² in the exhaust valve: %.0f %% at the %s", percent, heard)
	}
	if percent, heard, _ = e.LeakDown(1); percent > 10 || heard != "nowhere clearly" {
		t.Errorf("tight cylinder: %.0f %% at %s", percent, heard)
	}
	if where, _ := e.SmokeTest(); len(where) != 1 {
		t.Errorf("smoke at %v", where)
	}
	if _, _, err := e.LeakDown(5); err == nil {
		t.Error("cylinder 5 of 4 was tested")
	}
}
