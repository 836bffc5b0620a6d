package main

import (
	"fmt"
	"math/rand/v2"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/practice"
)

var motionRates = []float64{60, 100, 200, 400}

// inReach is the share of the rate below which an order can be judged, idle the
// practice engine's speed.
const (
	inReach = 0.45
	idle    = engine.RPM(750)
)

// sweepMotion judges the phone on the engine at each rate, tidy and with gaps
// and doubled samples, apart by whether the firing order is within reach, and
// names by one cut at 200 Hz.
func sweepMotion(seeds seedSpan, layouts string, verdicts, names *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		for _, hz := range motionRates {
			feelStates(layout, uint64(seed), turnBy(layout, seed), hz, verdicts)
		}
		feelCut(layout, uint64(seed), turnBy(layout, seed), names)
	})
}

func feelStates(layout engine.Layout, seed uint64, dead engine.Cylinder, hz float64, t *table) {
	reach := "firing order in reach"
	if float64(layout.N())*idle.CycleHz() > inReach*hz {
		reach = "out of reach"
	}
	for _, s := range []struct {
		name   string
		faults []string
		want   finding.Verdict
	}{{"healthy", nil, finding.NoMisfire}, {"one dead", []string{fmt.Sprintf("coil-open@%d", dead)}, finding.Misfire}} {
		shakes, err := shaking(layout, seed, s.faults, practice.Watch(watch), hz)
		if err != nil {
			continue // the engine stalls: nothing to feel
		}
		f, err := order.Feel(shakes, order.Config{Layout: layout})
		t.at(fmt.Sprintf("%s, %g Hz, %s", s.name, hz, reach)).judge(f, err, s.want)
		f, err = order.Feel(untidy(shakes, seed), order.Config{Layout: layout})
		t.at(fmt.Sprintf("%s, %g Hz, %s, gaps and doubles", s.name, hz, reach)).judge(f, err, s.want)
	}
}

func shaking(layout engine.Layout, seed uint64, faults []string, script practice.Script, hz float64) ([]order.Shake, error) {
	cfg, err := config(layout, seed, faults)
	if err != nil {
		return nil, err
	}
	rec, _, err := practice.Run(cfg, script, practice.Sensors{Phone: &practice.PhoneSensor{Hz: hz, Jitter: 0.05 + 0.05*float64(seed%4)}})
	var out []order.Shake
	for _, s := range rec.Phone {
		out = append(out, order.Shake{Seconds: s.T, Axes: [3]float64{s.X, s.Y, s.Z}})
	}
	return out, err
}

// untidy takes out a few gaps of up to half a second and doubles some samples.
func untidy(shakes []order.Shake, seed uint64) []order.Shake {
	rng := rand.New(rand.NewPCG(seed, 6))
	const gaps, longest, doubled = 3, 0.5, 0.05
	var from [gaps]float64
	end := shakes[len(shakes)-1].Seconds
	for i := range from {
		from[i] = end * rng.Float64()
	}
	var out []order.Shake
	for _, s := range shakes {
		lost := false
		for _, t := range from {
			lost = lost || s.Seconds >= t && s.Seconds < t+longest
		}
		if lost {
			continue
		}
		out = append(out, s)
		if rng.Float64() < doubled {
			out = append(out, s)
		}
	}
	return out
}

// feelCut cuts a working cylinder and asks the motion for the dead one's name.
func feelCut(layout engine.Layout, seed uint64, dead engine.Cylinder, t *table) {
	const hz = 200
	cut := engine.Cylinder(int(dead)%layout.N() + 1)
	shakes, err := shaking(layout, seed, []string{fmt.Sprintf("coil-open@%d", dead)}, unplugging(cut), hz)
	if err != nil {
		return
	}
	f, err := order.Feel(shakes, order.Config{Layout: layout, Cuts: []order.Cut{{Cylinder: cut, From: cutFrom, To: cutTo}}})
	t.at(fmt.Sprintf("%s, motion at %d Hz", layout.Title(), hz)).names(order.Named(f, layout), err, dead)
}
