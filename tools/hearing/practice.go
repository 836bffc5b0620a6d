package main

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/signal"
)

const (
	soundHz = 44100
	watch   = 12.0
	cutFrom = 11.0
	cutTo   = 17.0
)

var places = []struct {
	name  string
	sound practice.SoundSensor
}{
	{"over the engine", practice.SoundSensor{Hz: soundHz}},
	{"tailpipe", practice.SoundSensor{Hz: soundHz, Place: practice.AtTailpipe}},
	{"phone, 16 kHz, gain control", practice.SoundSensor{Hz: 16000, Gain: true, BassHz: 200}},
}

func sweepPractice(seeds seedSpan, layouts string, verdicts *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		sweepStates(layout, uint64(seed), turnBy(layout, seed), verdicts)
	})
}

func sweepStates(layout engine.Layout, seed uint64, dead engine.Cylinder, t *table) {
	states := []struct {
		name   string
		faults []string
		want   finding.Verdict
	}{
		{"healthy", nil, finding.NoMisfire},
		{"one dead", []string{fmt.Sprintf("coil-open@%d", dead)}, finding.Misfire},
	}
	for _, s := range states {
		for _, p := range places {
			x, err := sound(layout, seed, s.faults, p.sound)
			if err != nil {
				continue // the engine stalls: nothing to hear
			}
			f, err := order.Analyse(signal.FromMemory(x), p.sound.Hz, order.Config{Layout: layout})
			t.at(s.name+", "+p.name).judge(f, err, s.want)
		}
	}
}

func config(layout engine.Layout, seed uint64, faults []string) (practice.Config, error) {
	cfg := practice.Defaults(layout)
	cfg.Seed, cfg.Running = seed, true
	for _, text := range faults {
		f, err := practice.ParseFault(text)
		if err != nil {
			return cfg, err
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	return cfg, nil
}

func sound(layout engine.Layout, seed uint64, faults []string, s practice.SoundSensor) ([]float32, error) {
	cfg, err := config(layout, seed, faults)
	if err != nil {
		return nil, err
	}
	rec, _, err := practice.Run(cfg, practice.Watch(watch), practice.Sensors{Sound: &s})
	return rec.Sound.X, err
}

// unplugging cuts a cylinder for some seconds.
func unplugging(cut engine.Cylinder) practice.Script {
	script := practice.Watch(cutTo+1).
		Then(cutFrom, practice.Action(fmt.Sprintf("unplug coil %d", cut))).
		Then(cutTo, practice.Action(fmt.Sprintf("reconnect coil %d", cut)))
	script.Length = cutTo + 1
	return script
}

// names counts a naming of the dead one; an error, or no name, counts as open.
func (c *cell) names(named []engine.Cylinder, err error, dead engine.Cylinder) {
	c.namesAll(named, err, []engine.Cylinder{dead})
}

// namesAll counts a naming of all bad ones; fewer of them count as open.
func (c *cell) namesAll(named []engine.Cylinder, err error, bad []engine.Cylinder) {
	for _, n := range named {
		if err == nil && !slices.Contains(bad, n) {
			c.wrong++
			return
		}
	}
	if err != nil || len(named) < len(bad) {
		c.open++
		return
	}
	c.right++
}
