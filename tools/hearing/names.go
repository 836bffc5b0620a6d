package main

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"halforder/engine"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/signal"
)

// badKinds are what is wrong with the cylinders to be named. A quarter less
// fuel leaves some six tenths of the work (measured on the practice engine).
var badKinds = []struct {
	name, fault string
	count       int
	does        float64 // share of its work a bad one does
}{
	{"healthy", "", 0, 1},
	{"one dead", "coil-open@%d", 1, 0},
	{"two dead", "coil-open@%d", 2, 0},
	{"one weak", "injector-clogged@%d:0.25", 1, 0.6},
}

// sweepNames cuts a working cylinder, any, and asks for the names of the bad
// ones; without a cut, it gives the ignitions of a cylinder and asks again.
func sweepNames(seeds seedSpan, layouts string, t *table) error {
	for _, name := range strings.Split(layouts, ",") {
		layout, err := engine.Parse(name)
		if err != nil {
			return err
		}
		for _, kind := range badKinds {
			if kind.count > layout.N()/2 {
				continue // it does not idle
			}
			for seed := seeds.first; seed < seeds.first+seeds.count; seed++ {
				who := rand.New(rand.NewPCG(uint64(seed), 5)).Perm(layout.N())
				var bad []engine.Cylinder
				for _, k := range who[:kind.count] {
					bad = append(bad, layout.At(k))
				}
				row := layout.Title() + ", " + kind.name
				cut := layout.At(who[kind.count])
				nameByCut(layout, uint64(seed+1), kind.fault, bad, cut, t.at(row+", one cut"))
				nameByMark(layout, uint64(seed+1), kind.fault, bad, cut, t.at(row+", ignition marks"))
				namePlainly(layout, uint64(seed+1), kind.does, bad, cut, t.at("plain sound, "+row+", one cut"))
			}
		}
	}
	return nil
}

func faultsAt(fault string, bad []engine.Cylinder) (out []string) {
	for _, c := range bad {
		out = append(out, fmt.Sprintf(fault, c))
	}
	return out
}

func nameByCut(layout engine.Layout, seed uint64, fault string, bad []engine.Cylinder, cut engine.Cylinder, c *cell) {
	cfg, err := config(layout, seed, faultsAt(fault, bad))
	if err != nil {
		return
	}
	rec, _, err := practice.Run(cfg, unplugging(cut), practice.Sensors{Sound: &practice.SoundSensor{Hz: soundHz}})
	if err != nil {
		return
	}
	f, err := order.Analyse(signal.FromMemory(rec.Sound.X), soundHz, order.Config{Layout: layout, Cuts: []order.Cut{{Cylinder: cut, From: cutFrom, To: cutTo}}})
	c.namesAll(order.Named(f, layout), err, bad)
}

// namePlainly does the same on the plain sound; the cut is typed to a third of a
// second.
func namePlainly(layout engine.Layout, seed uint64, does float64, bad []engine.Cylinder, cut engine.Cylinder, c *cell) {
	p := newPlain(layout, seed)
	for _, b := range bad {
		p.work[layout.Position(b)] = does
	}
	p.unplug(layout.Position(cut), cutFrom, cutTo)
	off := p.rng.Float64()*2/3 - 1./3
	f, err := order.Analyse(signal.FromMemory(p.sound()), p.rate, order.Config{Layout: layout, Cuts: []order.Cut{{Cylinder: cut, From: cutFrom + off, To: cutTo + off}}})
	c.namesAll(order.Named(f, layout), err, bad)
}

// nameByMark gives the ignitions of a cylinder that works, from where the current
// of its coil breaks off, as a clamp shows it.
func nameByMark(layout engine.Layout, seed uint64, fault string, bad []engine.Cylinder, marked engine.Cylinder, c *cell) {
	cfg, err := config(layout, seed, faultsAt(fault, bad))
	if err != nil {
		return
	}
	rec, _, err := practice.Run(cfg, practice.Watch(watch), practice.Sensors{Sound: &practice.SoundSensor{Hz: soundHz},
		Coil: &practice.CoilSensor{Hz: soundHz, Cylinders: []engine.Cylinder{marked}}})
	if err != nil {
		return
	}
	l, err := order.NewListener(order.Config{Layout: layout, Marked: marked}, soundHz)
	if err != nil {
		return
	}
	l.AddMarks(falls(rec.CoilAmps))
	l.Write(rec.Sound.X)
	f, err := l.Finish()
	c.namesAll(order.Named(f, layout), err, bad)
}

// falls are the times in seconds at which a coil current breaks off.
func falls(t practice.Trace) (out []float64) {
	const charged = 4.0 // A
	for i := 1; i < len(t.X); i++ {
		if t.X[i-1] >= charged && t.X[i] < charged {
			out = append(out, t.At(i)-t.Start)
		}
	}
	return out
}
