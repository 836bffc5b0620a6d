package crank

import (
	"math"
	"testing"

	"halforder/engine"
	"halforder/practice"
)

// hanging is a wheel turned by a starter that takes twice as long over each of
// four compressions a cycle, with one cam edge a cycle.
func hanging(angles []float64, first int) (rec Recording) {
	at := func(deg float64) float64 {
		return deg/1200 - 0.33*math.Sin(4*math.Pi*deg/360)/1200*180/(2*math.Pi)
	}
	for turn := range 16 {
		for _, a := range angles {
			rec.Crank = append(rec.Crank, at(turnDeg*float64(turn)+a))
		}
		if turn%2 == 0 {
			rec.Cam = append(rec.Cam, at(turnDeg*float64(turn)+200))
		}
	}
	rec.Crank = rec.Crank[first:]
	return rec
}

func TestCountedFindsTheGapAndRefusesAnotherWheel(t *testing.T) {
	w, _ := ParseWheel("12-1")
	dec, ok := counted(w, hanging(w.settle().Angles, 4))
	if !ok {
		t.Fatal("12-1 was not followed by number")
	}
	// The cam edge at 200° is after the mark at 180°, number 6 of 12−1.
	if first := dec.runs[0].first; first != 7 {
		t.Errorf("the run begins with mark %d, expected 7", first)
	}
	for _, other := range []string{"11", "13-1", "14-3"} {
		o, _ := ParseWheel(other)
		if _, ok := counted(o, hanging(w.settle().Angles, 4)); ok {
			t.Errorf("12-1 was taken for %s", other)
		}
	}
}

func TestSixUnevenMarksWhileCranking(t *testing.T) {
	const spec = "6@0-56-127-186-238-301"
	w, err := ParseWheel(spec)
	if err != nil {
		t.Fatal(err)
	}
	wheel := practice.Wheel{SpacingDeg: 0.1, JitterSeconds: 2e-6, GapDeg: 120}
	for _, a := range w.Angles {
		wheel.Marks = append(wheel.Marks, engine.CrankDeg(a))
	}
	for _, c := range []struct{ layout, fault string }{{"i3", "ring-leak@2:0.17"}, {"i4", ""}} {
		l, _ := engine.Parse(c.layout)
		rec, bar := crankedEngine(t, c.layout, c.fault, wheel, 3)
		r, err := Cranking(Setup{Layout: l, Wheel: w, References: []Reference{{l.At(0), -300, FromCam}}}, Recording{Crank: rec.Crank, Cam: rec.Cam})
		checkCompression(t, c.layout+" "+spec, r, err, bar, l, c.fault != "")
	}
}
