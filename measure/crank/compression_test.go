package crank

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/practice"
)

// crankedEngine turns a practice engine with its starter and gives what the
// sensors saw and the mean peak pressures.
func crankedEngine(t testing.TB, layout string, fault string, wheel practice.Wheel, seed uint64) (practice.Recording, map[engine.Cylinder]float64) {
	t.Helper()
	l, err := engine.Parse(layout)
	if err != nil {
		t.Fatal(err)
	}
	cfg := practice.Defaults(l)
	cfg.Running, cfg.Seed, cfg.Wheel = false, seed, wheel
	for _, one := range strings.Fields(fault) {
		f, err := practice.ParseFault(one)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	e, err := practice.New(cfg, practice.Sensors{Crank: true, Cam: true, Starter: &practice.Sampling{Hz: 2000}})
	if err != nil {
		t.Fatal(err)
	}
	for _, act := range []practice.Action{"key on", "crank 5"} {
		if err := e.Do(act); err != nil {
			t.Fatal(err)
		}
	}
	e.RunUntil(5)
	bar, n := map[engine.Cylinder]float64{}, map[engine.Cylinder]float64{}
	for _, f := range e.TakeTruth().Firings {
		if f.T > 1.5 {
			bar[f.Cylinder] += f.PeakBar
			n[f.Cylinder]++
		}
	}
	for c := range bar {
		bar[c] /= n[c]
	}
	return e.Take(), bar
}

var (
	toothed  = practice.Wheel{Teeth: 60, Missing: 2, GapDeg: 84, SpacingDeg: 0.03, JitterSeconds: 1e-6, RunoutDeg: 0.1}
	fourMark = practice.Wheel{Marks: []engine.CrankDeg{0, 70, 180, 250}, GapDeg: 100, JitterSeconds: 2e-6, SpacingDeg: 0.1}
)

// lowest is the weakest cylinder and its pressure against the best of the rest.
func lowest(bar map[engine.Cylinder]float64) (c engine.Cylinder, share float64) {
	high := 0.0
	for _, b := range bar {
		high = max(high, b)
	}
	share = 2
	for k, b := range bar {
		if b/high < share {
			c, share = k, b/high
		}
	}
	return c, share
}

func TestCrankingFindsTheWeakCylinder(t *testing.T) {
	for _, c := range []struct {
		layout, wheel string
		build         practice.Wheel
	}{{"i3", "60-2", toothed}, {"i4", "60-2", toothed}, {"i6", "60-2", toothed}, {"v8-18436572", "60-2", toothed}, {"i4", "4@0-70-180-250", fourMark}} {
		l, _ := engine.Parse(c.layout)
		for _, severity := range []float64{0, 0.17, 0.3, 1} {
			bad := engine.Cylinder(2)
			fault := ""
			if severity > 0 {
				fault = fmt.Sprintf("ring-leak@%d:%g", bad, severity)
			}
			rec, bar := crankedEngine(t, c.layout, fault, c.build, 7)
			w, _ := ParseWheel(c.wheel)
			refs := []Reference{{l.At(0), -300, FromCam}}
			r, err := Cranking(Setup{Layout: l, Wheel: w, References: refs}, Recording{Crank: rec.Crank, Cam: rec.Cam})
			checkCompression(t, "speed "+c.layout+" "+c.wheel, r, err, bar, l, severity > 0)
			if c.wheel == "60-2" {
				amps := StarterCurrent{Rate: rec.StarterAmps.Hz, Values: rec.StarterAmps.X, Marks: rec.Cam}
				r, err = StarterCompression(Setup{Layout: l, References: refs}, amps)
				checkCompression(t, "current "+c.layout, r, err, bar, l, severity > 0)
			}
		}
	}
}

func checkCompression(t *testing.T, what string, r *Compression, err error, bar map[engine.Cylinder]float64, l engine.Layout, faulty bool) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	c, share := lowest(bar)
	t.Logf("%s: %s relative %.2f; truly %d at %.0f %%", what, r.Finding.Sentence, r.Relative, c, 100*share)
	if err := r.Finding.Likelihood.Check(l.N()); err != nil {
		t.Error(err)
	}
	named := append(append([]engine.Cylinder{}, r.Lost...), r.Weak...)
	if !faulty {
		if len(named) > 0 {
			t.Errorf("%s: accuses %v of a sound engine", what, named)
		}
		return
	}
	if len(named) != 1 || named[0] != c {
		t.Errorf("%s: names %v, want %d", what, named, c)
	}
	if got := r.Relative[l.Position(c)]; math.Abs(got-share) > 0.25 {
		t.Errorf("%s: relative %.2f, truly %.2f: further off than a quarter", what, got, share)
	}
}

func FuzzStarterCompression(f *testing.F) {
	f.Add([]byte{10, 200, 90, 200, 90, 200}, 200.0, uint8(4), 0.3)
	f.Fuzz(func(t *testing.T, data []byte, rate float64, cylinders uint8, mark float64) {
		l, err := engine.Parse(fmt.Sprintf("i%d", 3+cylinders%4))
		if err != nil || len(data) == 0 || !(rate < 5000) {
			t.Skip()
		}
		cur := StarterCurrent{Rate: rate, Marks: []float64{mark, mark + 0.5}}
		for i := range 4000 {
			cur.Values = append(cur.Values, math.Float32frombits(uint32(data[i%len(data)])<<22))
		}
		c, err := StarterCompression(Setup{Layout: l, References: []Reference{{1, 100, FromCam}}}, cur)
		if err != nil {
			return
		}
		if err := c.Finding.Likelihood.Check(l.N()); err != nil {
			t.Error(err)
		}
		if _, err := json.Marshal(c.Finding); err != nil {
			t.Error(err)
		}
	})
}
