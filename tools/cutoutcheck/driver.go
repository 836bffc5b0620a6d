package main

import (
	"fmt"
	"math/rand/v2"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/practice"
	"halforder/tools/idlesim"
)

// driver is who does a cut-out test on a practice engine.
type driver struct {
	engine *practice.Engine
	layout engine.Layout
	now    float64
	marks  []cutout.Mark
	cuts   []idlesim.Cut
}

func newDriver(cfg practice.Config, sensors practice.Sensors) (*driver, error) {
	e, err := practice.New(cfg, sensors)
	return &driver{engine: e, layout: cfg.Layout}, err
}

// test cuts each cylinder forwards and backwards by its injector for 3–5 s, with
// a button pressed a little early and lights switched on now and then. An engine
// that stops is plugged in and started again.
func (d *driver) test(rng *rand.Rand) error {
	if err := d.runTo(8 + 3*rng.Float64()); err != nil {
		return err
	}
	lamp := -1
	units := cutout.ABBA(cutout.Units(d.layout, false))
	if rng.Float64() < 0.4 {
		lamp = rng.IntN(len(units))
	}
	for i, u := range units {
		if err := d.cut(u[0], 3+2*rng.Float64(), rng); err != nil {
			return err
		}
		if i == lamp || i == lamp+1 {
			if err := d.do("load %d", map[bool]int{true: 500}[i == lamp]); err != nil {
				return err
			}
		}
		if err := d.runTo(d.now + 9 + 3*rng.Float64()); err != nil {
			return err
		}
	}
	return nil
}

func (d *driver) do(format string, args ...any) error {
	return d.engine.Do(practice.Action(fmt.Sprintf(format, args...)))
}

func (d *driver) cut(c engine.Cylinder, seconds float64, rng *rand.Rand) error {
	early := func() float64 { return 0.3 + 0.8*rng.Float64() }
	begin := d.now
	d.marks = append(d.marks, cutout.Mark{At: begin - early(), Cylinders: []engine.Cylinder{c}})
	if err := d.do("unplug injector %d", c); err != nil {
		return err
	}
	for d.now < begin+seconds && d.engine.State().Running {
		d.step()
	}
	if err := d.do("reconnect injector %d", c); err != nil {
		return err
	}
	d.cuts = append(d.cuts, idlesim.Cut{Start: begin, End: d.now, Cylinders: []engine.Cylinder{c}})
	d.marks = append(d.marks, cutout.Mark{At: max(d.now-early(), begin), On: true})
	return nil
}

func (d *driver) step() {
	d.now += 0.1
	d.engine.RunUntil(d.now)
}

// runTo lets it idle, and starts an engine that stopped after four seconds.
func (d *driver) runTo(end float64) error {
	for d.now < end {
		d.step()
		if d.engine.State().Running {
			continue
		}
		for range 40 {
			d.step()
		}
		if !d.engine.State().Running {
			if err := d.do("start"); err != nil {
				return err
			}
		}
		for range 60 {
			d.step()
		}
		end += 10
	}
	return nil
}
