package main

import (
	"fmt"
	"strings"

	"halforder/engine"
)

// errand is how a check of the catalogue is done on a practice car: what is ordered
// there, and what the card is given for the answer.
type errand struct {
	menu   string // of one cylinder: the cylinder follows
	single bool
	fields func(answer string, l engine.Layout, c engine.Cylinder) []string
}

// errands are the checks a practice car offers, by the catalogue's code.
var errands = map[string]errand{
	"cut":                  {"cut-out", false, nil},
	"ramp":                 {"current", false, rampFields},
	"well-look":            {"boot", true, word(map[string]string{"sound": "dry", "tracked": "tracked"})},
	"ohms":                 {"coil-ohms", true, ohmFields},
	"spark":                {"spark", true, word(map[string]string{"does not jump": "none", "jumps": "strong"})},
	"feed-drop":            {"feed", true, feedFields},
	"plug-look":            {"plug", true, plugFields},
	"mist":                 {"spray", false, mistFields},
	"pulse":                {"pulse", true, word(map[string]string{"flashes": "flashes", "stays dark": "none"})},
	"wiggle":               {"wiggle", true, word(map[string]string{"running changes": "changes", "changes nothing": "same"})},
	"injector-ohms":        {"injector-ohms", true, ohmFields},
	"injector-balance":     {"balance", false, each("%.3fbar", 0.01)},
	"fuel-pressure":        {"fuel-pressure", false, nil},
	"rest-pressure":        {"fuel-pressure", false, restFields},
	"trims":                {"trims", false, trimFields},
	"gas":                  {"gas", false, gasFields},
	"fuel-sample":          {"fuel-sample", false, engineWord(map[string]string{"cloudy": "bad", "clear": "good"})},
	"sensor-check":         {"meters", false, meterFields},
	"signal-check":         {"signal", false, signalFields},
	"smoke":                {"smoke", false, engineWord(map[string]string{"plenum": "plenum", "runner": "runner", "none": "tight"})},
	"vacuum":               {"vacuum", false, vacuumFields},
	"back-pressure":        {"back-pressure", false, backFields},
	"relative-compression": {"starter", false, starterFields},
	"compression":          {"compression", false, each("%.1fbar", 1)},
	"leak-down":            {"leak-down", true, leakFields},
	"coolant-test":         {"coolant", false, engineWord(map[string]string{"falls": "leaks", "holds": "tight"})},
	"cam-check":            {"cam", false, camFields},
	"mounts-belt":          {"feel", false, shakeFields},
	"swap-coil":            {"swap-coil", true, nil},
	"swap-plug":            {"swap-plug", true, nil},
	"swap-boot":            {"swap-boot", true, nil},
	"swap-injector":        {"swap-injector", true, nil},
	"codes":                {"codes", false, nil},
	"counters":             {"codes", false, nil},
	"pinch":                {"egr-off", false, nil},
	"record":               {"record", false, nil},
}

// mends are the practice actions of a repair of the catalogue, parts aside.
var mends = map[string][]string{
	"wiring": {"coil-wiring", "injector-wiring"}, "feed": {"coil-feed"}, "driver": {"coil-driver"},
	"valve-job": {"exhaust-valve-leak", "intake-valve-leak"}, "rings": {"ring-leak"}, "gasket": {"head-gasket"},
	"valve-gear": {"intake-valve-shut", "exhaust-valve-shut"}, "timing": {"cam-timing"}, "runner-gasket": {"runner-leak"},
	"hose": {"plenum-leak"}, "egr-purge": {"egr-open", "purge-open"}, "fuel-supply": {"fuel-supply", "fuel-pressure"},
	"fuel-drain": {"fuel-bad"}, "air-meter": {"air-meter"}, "catalyst": {"exhaust-blocked"}, "signal": {"crank-signal"},
	"elsewhere": {"shake"}, "oxygen-sensor": {"oxygen-sensor"}, "carbon-clean": {"valve-carbon"},
}

// word finds the first phrase an answer holds, the longer ones first, and gives it to
// the cylinder.
func word(says map[string]string) func(string, engine.Layout, engine.Cylinder) []string {
	return func(answer string, _ engine.Layout, c engine.Cylinder) []string {
		return []string{fmt.Sprintf("%d=%s", c, phrase(answer, says))}
	}
}

func engineWord(says map[string]string) func(string, engine.Layout, engine.Cylinder) []string {
	return func(answer string, _ engine.Layout, _ engine.Cylinder) []string {
		return []string{phrase(answer, says)}
	}
}

func phrase(answer string, says map[string]string) (out string) {
	found := ""
	for k, v := range says {
		if strings.Contains(answer, k) && len(k) > len(found) {
			found, out = k, v
		}
	}
	return out
}
