package main

import (
	"math"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/tools/idlesim"
)

// example is one recorded test with its truth.
type example struct {
	seed      uint64
	recording cutout.Recording
	truth     []float64 // strength by number − 1, 1 is healthy
	cuts      []idlesim.Cut
}

// row is one way of testing.
type row struct {
	name   string
	draw   func(seed uint64, cylinders int) (example, error)
	guided bool // the plan says what to cut and when to stop
}

func rows() []row {
	return []row{
		{name: "guided by the plan", guided: true},
		simulated("button, twice each, air and spark", true, idlesim.Options{Marked: true}),
		simulated("button, twice each, speed alone", false, idlesim.Options{Marked: true}),
		simulated("button, once each", true, idlesim.Options{Marked: true, Once: true}),
		simulated("no button, twice each", true, idlesim.Options{Unmarked: true}),
		simulated("no button, once each", true, idlesim.Options{Unmarked: true, Once: true}),
		simulated("3 % wrong cylinder", true, idlesim.Options{Marked: true, WrongShare: 0.03}),
		simulated("healthy", true, idlesim.Options{Marked: true, Faults: healthy}),
		simulated("two faults", true, idlesim.Options{Marked: true, Faults: 2}),
		simulated("speed alone at 2.5 Hz", false, idlesim.Options{Marked: true, Rate: 2.5}),
		simulated("speed alone at 10 Hz", false, idlesim.Options{Marked: true, Rate: 10}),
		practised("practice engine, bus: speed at 10 Hz", busSpeed),
		practised("practice engine, bus: three at 10 Hz", busAll),
		practised("practice engine, crank marks", crankMarks),
		practised("practice engine, sound", sound),
		practised("practice engine, motion", motion),
		practised("practice engine, sound and bus", soundAndBus),
	}
}

// healthy asks for no fault: 0 would be the zero value, any number of them.
const healthy = -2

func simulated(name string, efforts bool, o idlesim.Options) row {
	switch o.Faults {
	case 0:
		o.Faults = -1
	case healthy:
		o.Faults = 0
	}
	return row{name: name, draw: func(seed uint64, cylinders int) (example, error) {
		o.Cylinders = cylinders
		return exampleOf(idlesim.Random(seed, o), efforts), nil
	}}
}

// exampleOf is a simulated case as the analysis gets it.
func exampleOf(c idlesim.Case, efforts bool) example {
	r := cutout.Recording{Layout: c.Car.Layout}
	r.Speed.T, r.Speed.Y = c.Trace.Sample(idlesim.RPM, c.Rate, c.Noise, c.Quantum, c.Seed)
	if efforts {
		rate := math.Min(c.Rate, 10)
		air, spark := cutout.Effort{Name: "air", Unit: "ratio"}, cutout.Effort{Name: "spark", Unit: "deg"}
		air.T, air.Y = c.Trace.Sample(idlesim.Air, rate, 0.02, 0.01, c.Seed+1)
		spark.T, spark.Y = c.Trace.Sample(idlesim.Spark, rate, 0.3, 0.5, c.Seed+2)
		r.Efforts = []cutout.Effort{air, spark}
	}
	for _, call := range c.Called {
		if c.Marked {
			r.Marks = append(r.Marks, cutout.Mark{At: call.Off, Cylinders: call.Cylinders}, cutout.Mark{At: call.On, On: true})
		} else {
			r.Called = append(r.Called, call.Cylinders)
		}
	}
	return example{c.Seed, r, c.Truth(), c.Cuts}
}

// guided cuts what the plan asks for until it has enough.
func (t *tally) guided(seed uint64, cylinders int) error {
	c := idlesim.Random(seed, idlesim.Options{Faults: -1, Marked: true, Once: true, Cylinders: cylinders})
	once, err := cutout.Analyse(exampleOf(c, true).recording)
	if err != nil {
		return err
	}
	t.onceRight += rightOf(once, c.Truth())
	units := cutout.Units(c.Car.Layout, false)
	var order []engine.Cylinder
	var done []cutout.Unit
	var r cutout.Result
	for {
		p := cutout.Next(r, units, done, c.Seed)
		if p.Done {
			break
		}
		order, done = append(order, p.Cut...), append(done, p.Cut)
		if len(done) < len(units) {
			continue
		}
		if r, err = cutout.Analyse(exampleOf(c.Again(order), true).recording); err != nil {
			return err
		}
	}
	t.guidedCuts += len(order)
	t.units += len(units)
	t.compare(exampleOf(c.Again(order), true), r)
	return nil
}
