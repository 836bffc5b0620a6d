package main

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/signal"
)

// clipFrom is when the engine has settled at the speed held, in seconds, and a
// clip of one second begins.
const clipFrom = 8.0

var speedsHeld = []engine.RPM{0, 1000, 1500, 2000, 3000, 4500, 6500} // 0 for idle

// sweepSpeeds asks for the speed in clips of one second, to 1 %: no error,
// right; a refusal, open; another speed, wrong. The octave is where it fails.
func sweepSpeeds(seeds seedSpan, layouts string, t *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		first := turnBy(layout, seed)
		second := (int(first)+layout.N()/2)%layout.N() + 1
		one := fmt.Sprintf("coil-open@%d", first)
		for dead, faults := range [][]string{nil, {one}, {one, fmt.Sprintf("coil-open@%d", second)}} {
			for _, rpm := range speedsHeld {
				sweepSpeedHeld(layout, uint64(seed), faults, rpm, t.at(speedRow(rpm, dead)))
			}
		}
	})
}

func speedRow(rpm engine.RPM, dead int) string {
	at := "idle"
	if rpm > 0 {
		at = fmt.Sprintf("%.0f rpm", rpm)
	}
	return fmt.Sprintf("%d dead, %s", dead, at)
}

func sweepSpeedHeld(layout engine.Layout, seed uint64, faults []string, rpm engine.RPM, c *cell) {
	cfg, err := config(layout, seed, faults)
	if err != nil {
		return
	}
	script := practice.Watch(clipFrom + 1)
	if rpm > 0 {
		script = script.Then(1, practice.Action(fmt.Sprintf("hold %.0f", rpm)))
	}
	script.Length = clipFrom + 1
	sound := practice.SoundSensor{Hz: soundHz}
	rec, truth, err := practice.Run(cfg, script, practice.Sensors{Sound: &sound})
	want := meanSpeed(truth, clipFrom)
	if err != nil || want < 500 || rpm > 0 && math.Abs(want/float64(rpm)-1) > 0.1 {
		return // it stalls, or cannot hold that speed
	}
	f, err := order.Analyse(signal.FromMemory(rec.Sound.X[int(clipFrom*soundHz):]), soundHz, order.Config{Layout: layout})
	c.speed(f, err, want)
}

// speed counts a speed within 1 %.
func (c *cell) speed(f finding.Finding, err error, want float64) {
	got, ok := f.Quantity(order.SpeedQuantity)
	switch {
	case err != nil || !ok:
		c.open++
	case math.Abs(got.Value/want-1) <= 0.01:
		c.right++
	default:
		c.wrong++
	}
}

// meanSpeed of the firings from a moment on, rpm.
func meanSpeed(truth practice.Truth, from float64) float64 {
	var sum, n float64
	for _, f := range truth.Firings {
		if f.T >= from {
			sum, n = sum+f.RPM, n+1
		}
	}
	return sum / max(n, 1)
}
