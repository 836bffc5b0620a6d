package exercise

import (
	"strings"
	"testing"

	"halforder/engine"
	"halforder/practice"
)

// Only an air meter or an oxygen sensor that is wrong does not make sense; misses,
// leaks and low pressure leave both as they are. An engine that dies on the way says so.
func TestMeters(t *testing.T) {
	if r := carWith(t, layout(t, "i4"), "purge-open").meters(); r != noStart {
		t.Errorf("purge valve open: %s", r.text)
	}
	faults := "none coil-open@1 injector-clogged@1 plenum-leak fuel-pressure egr-open exhaust-valve-leak@1 exhaust-blocked air-meter oxygen-sensor@bank1"
	for name, banks := range map[string]int{"i3": 1, "i4": 1, "v6-142536": 2} {
		sound := strings.Repeat("b", banks+1)
		want := map[string]string{"air-meter": sound[1:] + "a", "oxygen-sensor@bank1": "a" + sound[1:]}
		for _, fault := range strings.Fields(faults) {
			t.Run(name+" "+fault, func(t *testing.T) {
				r := carWith(t, layout(t, name), fault).meters()
				if due, odd := want[fault]; r.outcome != due && odd || r.outcome != sound && !odd {
					t.Errorf("%s: %s", r.outcome, r.text)
				}
			})
		}
	}
}

// carWith is a warm practice car with one fault, as in the shop.
func carWith(t *testing.T, l engine.Layout, fault string) *bay {
	t.Helper()
	cfg := practice.Defaults(l)
	cfg.Seed, cfg.CoolantC = 5, 86
	if fault != "none" {
		f, err := practice.ParseFault(fault)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = []practice.Fault{f}
	}
	e, err := practice.New(cfg, practice.Sensors{})
	if err != nil {
		t.Fatal(err)
	}
	return &bay{e: e, layout: l, build: cfg.Build}
}
