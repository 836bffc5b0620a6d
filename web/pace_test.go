package web

import (
	"fmt"
	"math"
	"testing"

	"halforder/engine"
	"halforder/practice"
)

// cutAndStopped is a practice engine whose injectors are taken off one after
// the other, then the key is turned: its sound and its speed by the bus.
func cutAndStopped(t *testing.T, name string, seed uint64, faults ...string) (x []float32, bus practice.Recording, stop float64, layout engine.Layout) {
	t.Helper()
	layout, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	cfg := practice.Defaults(layout)
	cfg.Seed, cfg.Running = seed, true
	for _, text := range faults {
		f, err := practice.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	script := practice.Watch(10)
	at := 10.0
	for _, n := range layout.Cylinders()[:3] {
		script = script.Then(at, practice.Action(fmt.Sprintf("unplug injector %d", n))).Then(at+4, practice.Action(fmt.Sprintf("reconnect injector %d", n)))
		at += 14
	}
	script = script.Then(at, "stop")
	script.Length = at + 6
	rec, _, err := practice.Run(cfg, script, practice.Sensors{Sound: &practice.SoundSensor{Hz: 16000}, Bus: &practice.BusSensor{PerSecond: 20, Names: []string{"rpm"}}})
	if err != nil {
		t.Fatal(err)
	}
	return rec.Sound.X, rec, at, layout
}

func speedAt(rec practice.Recording, at float64) (rpm float64) {
	for _, v := range rec.Bus {
		if v.T > at {
			break
		}
		rpm = v.Value
	}
	return rpm
}

// The pace keeps up with an engine whose cylinders are cut, within 6 % nine
// times out of ten, never lost for a second, and says when it stands. Truth is
// the practice engine's bus.
func TestPaceFollowsCuts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		engine string
		faults []string
	}{{"i4", []string{"coil-open@3"}}, {"i4", nil}, {"i3", nil}, {"i6", []string{"coil-open@5"}}, {"v6-142536", nil}, {"v8-15426378", []string{"coil-open@2"}}} {
		x, rec, stop, layout := cutAndStopped(t, c.engine, 7, c.faults...)
		p, err := newPace(layout, 16000, engine.RPM(speedAt(rec, 8)))
		if err != nil {
			t.Fatal(err)
		}
		var looks, off, inARow, stands int
		for at := 0; at+1600 <= len(x); at += 1600 {
			for _, b := range p.write(x[at : at+1600]) {
				switch {
				case b.at > stop+3:
					if b.rpm == 0 {
						stands++
					}
					continue
				case b.at > stop-1:
					continue
				case b.rpm == 0:
					t.Errorf("%s %v: a stall at %.1f s that was none", c.engine, c.faults, b.at)
				}
				looks++
				if e := math.Abs(b.rpm/speedAt(rec, b.at) - 1); e > 0.06 {
					off, inARow = off+1, inARow+1
				} else {
					inARow = 0
				}
				if inARow == 15 {
					t.Errorf("%s %v: lost at %.1f s: %.0f rpm, the bus says %.0f", c.engine, c.faults, b.at, b.rpm, speedAt(rec, b.at))
				}
			}
		}
		if looks < 300 || float64(off) > 0.1*float64(looks) || stands < 10 {
			t.Errorf("%s %v: %d of %d looks are off, %d say that it stands", c.engine, c.faults, off, looks, stands)
		}
		t.Logf("%s %v: %d of %d off", c.engine, c.faults, off, looks)
	}
}
