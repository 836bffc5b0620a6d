package main

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/practice"
)

// weakShare is the peak pressure of the weak cylinder against the best.
const weakShare = 0.75

// scoreCranking prints how often the weak one of the cylinders is named by
// cranking speed and by starter current, and sound ones left in peace.
func scoreCranking(c conditions, w wheel, layouts []engine.Layout, seeds, from int) {
	fmt.Println("layout         | weak by speed          | weak by current        | sound, evenly low accused")
	for _, l := range layouts {
		var speed, current, tries, accused int
		for s := range seeds {
			t := trial{conditions: c, layout: l, wheel: w, seed: uint64(from + s)}
			bad := []engine.Cylinder{t.bad()}
			bySpeed, byCurrent := t.compressions(bad, t.leak())
			tries++
			speed += count(slices.Equal(bySpeed, bad))
			current += count(slices.Equal(byCurrent, bad))
			for _, leak := range []float64{0, 0.2} {
				bySpeed, byCurrent = t.compressions(everyCylinder(l), leak)
				accused += count(len(bySpeed) > 0) + count(len(byCurrent) > 0)
			}
		}
		fmt.Printf("%-14s | %s | %s | %d of %d\n", l, share(speed, tries), share(current, tries), accused, 4*tries)
	}
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

func everyCylinder(l engine.Layout) (out []engine.Cylinder) {
	for k := range l.N() {
		out = append(out, l.At(k))
	}
	return out
}

// firstMarkDeg is where mark 0 stands while the starter turns the engine.
const firstMarkDeg = 84.0

// leak is how much a cylinder must leak to have the weak share of pressure.
func (t trial) leak() float64 {
	low, high := 0.0, 0.5
	for range 5 {
		mid := (low + high) / 2
		if e := t.starter([]engine.Cylinder{t.bad()}, mid); lowestPressure(e) > weakShare {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// starter cranks the engine for five seconds.
func (t trial) starter(leaking []engine.Cylinder, leak float64) *practice.Engine {
	cfg := practice.Defaults(t.layout)
	cfg.Running, cfg.Seed = false, t.seed
	cfg.Wheel = practice.Wheel{SpacingDeg: t.spacing, JitterSeconds: t.jitter, RunoutDeg: t.runout}
	for _, m := range t.wheel.marks {
		cfg.Wheel.Marks = append(cfg.Wheel.Marks, engine.CrankDeg(math.Mod(m+firstMarkDeg, 360)))
	}
	slices.Sort(cfg.Wheel.Marks)
	cfg.Cam = practice.CamWheel{Edges: []engine.CrankDeg{camDeg}, JitterSeconds: 2e-6}
	for _, c := range leaking {
		if leak > 0 {
			f, err := practice.ParseFault(fmt.Sprintf("ring-leak@%d:%g", c, leak))
			check(err)
			cfg.Faults = append(cfg.Faults, f)
		}
	}
	e, err := practice.New(cfg, practice.Sensors{Crank: true, Cam: true, Starter: &practice.Sampling{Hz: 2000}})
	check(err)
	for _, act := range []practice.Action{"key on", "crank 5"} {
		check(e.Do(act))
	}
	e.RunUntil(5)
	return e
}

// lowestPressure is the lowest mean peak pressure against the highest.
func lowestPressure(e *practice.Engine) float64 {
	bar, n := map[engine.Cylinder]float64{}, map[engine.Cylinder]float64{}
	for _, f := range e.TakeTruth().Firings {
		if f.T > 1.5 {
			bar[f.Cylinder] += f.PeakBar
			n[f.Cylinder]++
		}
	}
	low, high := 1e9, 0.0
	for c := range bar {
		low, high = min(low, bar[c]/n[c]), max(high, bar[c]/n[c])
	}
	return low / high
}

// compressions are the cylinders called low by speed and by current.
func (t trial) compressions(leaking []engine.Cylinder, leak float64) (bySpeed, byCurrent []engine.Cylinder) {
	rec := t.starter(leaking, leak).Take()
	w, err := crank.ParseWheel(t.wheel.spec)
	check(err)
	setup := crank.Setup{Layout: t.layout, Wheel: w, References: []crank.Reference{{Cylinder: t.layout.At(0), Deg: -camDeg, Origin: crank.FromCam}}}
	s, err := crank.Cranking(setup, crank.Recording{Crank: rec.Crank, Cam: rec.Cam})
	t.report("speed", s, err)
	if err == nil {
		bySpeed = append(s.Lost, s.Weak...)
	}
	s, err = crank.StarterCompression(setup, crank.StarterCurrent{Rate: rec.StarterAmps.Hz, Values: rec.StarterAmps.X, Marks: rec.Cam})
	t.report("current", s, err)
	if err == nil {
		byCurrent = append(s.Lost, s.Weak...)
	}
	return bySpeed, byCurrent
}

func (t trial) report(by string, c *crank.Compression, err error) {
	switch {
	case err != nil:
		fmt.Printf("   %s seed %d by %s: %v\n", t.layout, t.seed, by, err)
	case t.verbose:
		fmt.Printf("   %s seed %d cylinder %d by %s: %.2f %s\n", t.layout, t.seed, t.bad(), by, c.Relative, c.Finding.Sentence)
	}
}
