package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/practice"
	"halforder/tools/roughroad"
)

// camDeg is where the cam edge stands, after mark 0 respectively the first top
// dead centre.
const camDeg = 300.0

// onBench runs the practice engine.
func onBench(t trial) (crank.Recording, float64, []fired) {
	cfg := practice.Defaults(t.layout)
	cfg.Seed = t.seed
	cfg.Wheel = practice.Wheel{SpacingDeg: t.spacing, JitterSeconds: t.jitter, RunoutDeg: t.runout}
	for _, m := range t.wheel.marks {
		cfg.Wheel.Marks = append(cfg.Wheel.Marks, engine.CrankDeg(m+4))
	}
	if last := len(cfg.Wheel.Marks) - 1; cfg.Wheel.Marks[last] >= 360 {
		cfg.Wheel.Marks = append([]engine.CrankDeg{cfg.Wheel.Marks[last] - 360}, cfg.Wheel.Marks[:last]...)
	}
	cfg.Cam = practice.CamWheel{Edges: []engine.CrankDeg{camDeg}, JitterSeconds: 2e-6}
	switch t.kind {
	case dead:
		cfg.Faults = []practice.Fault{fault("coil-open@%d", t.bad())}
	case missing:
		cfg.Faults = []practice.Fault{fault("coil-open@%d,random=0.05", t.bad())}
	case spread:
		for _, c := range everyCylinder(t.layout) {
			cfg.Faults = append(cfg.Faults, fault(fmt.Sprintf("coil-open@%%d,random=%g", t.lean), c))
		}
	}
	e, err := practice.New(cfg, practice.Sensors{Crank: true, Cam: true})
	if err != nil { // the engine does not run with that fault
		return crank.Recording{}, 0, nil
	}
	if t.rpm > 0 {
		check(e.Do(practice.Action(fmt.Sprintf("hold %g", t.rpm))))
	}
	if t.brake > 0 {
		check(e.Do(practice.Action(fmt.Sprintf("brake %g", t.brake*float64(t.layout.N())))))
	}
	e.RunUntil(6)
	e.Take()
	e.TakeTruth()
	e.RunUntil(6 + t.seconds)
	rec := e.Take()
	var truth []fired
	for _, f := range e.TakeTruth().Firings {
		truth = append(truth, fired{f.T, f.Cylinder, f.Missed})
	}
	return crank.Recording{Crank: rec.Crank, Cam: rec.Cam}, -camDeg, truth
}

func fault(text string, c engine.Cylinder) practice.Fault {
	f, err := practice.ParseFault(fmt.Sprintf(text, c))
	check(err)
	return f
}

// roadIdle is the idle speed on the road, rpm.
const roadIdle = 750

// onRoad is the engine of a trial on the road, all cylinders sound.
func (t trial) onRoad() roughroad.Engine {
	rpm := t.rpm
	if rpm == 0 {
		rpm = roadIdle
	}
	e := roughroad.Default(t.layout, t.wheel.marks, rpm)
	e.Seed, e.Spacing, e.Runout, e.Jitter, e.Load = t.seed, t.spacing, t.runout, t.jitter, t.load
	e.Cycles, e.CamAt = int(t.seconds*rpm/120), []float64{camDeg}
	if t.wild {
		e = weather(e, t.seed)
	}
	return e
}

// onRoad runs the simulated rough road.
func onRoad(t trial) (crank.Recording, float64, []fired) {
	e := t.onRoad()
	switch t.kind {
	case dead:
		e.Dead = map[engine.Cylinder]bool{t.bad(): true}
	case missing:
		e.MissP = map[engine.Cylinder]float64{t.bad(): missShare}
	case spread:
		e.MissP = map[engine.Cylinder]float64{}
		for _, c := range everyCylinder(t.layout) {
			e.MissP[c] = t.lean
		}
	}
	crankEdges, cam, what := e.Run()
	var truth []fired
	for place, at := range what.Times {
		if place.Cycle > 1 { // the first are settling
			truth = append(truth, fired{at, t.layout.At(place.Position), what.Misses[place]})
		}
	}
	return crank.Recording{Crank: crankEdges, Cam: cam}, e.TopAt - camDeg, truth
}

// weather draws the conditions anew.
func weather(e roughroad.Engine, seed uint64) roughroad.Engine {
	r := rand.New(rand.NewPCG(seed, 4242))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	e.Spacing, e.Runout = between(0, 0.1), between(0, 0.3)
	e.Jitter = math.Exp(between(math.Log(0.1e-6), math.Log(2e-6)))
	e.Road, e.Belt, e.BeltHz = between(0, 8), between(0, 4), between(8, 45)
	e.Load, e.Cycle, e.Spread = between(0.4, 1.2), between(0.03, 0.1), between(0, 0.05)
	e.TopAt = between(0, 359)
	return e
}
