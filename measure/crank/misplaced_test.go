package crank

import (
	"slices"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// While cranking an angle that puts top dead centre between two compressions names
// nobody, by speed and by current, and a weak cylinder is not called even.
func TestCrankingAtAWrongAngle(t *testing.T) {
	for _, name := range []string{"i3", "i4", "i6"} {
		l, err := engine.Parse(name)
		if err != nil {
			t.Fatal(err)
		}
		rec, _ := crankedEngine(t, name, "ring-leak@2:0.17", toothed, 5)
		amps := StarterCurrent{Rate: rec.StarterAmps.Hz, Values: rec.StarterAmps.X, Marks: rec.Cam}
		for _, off := range []float64{0, cycleDeg / float64(l.N()) / 2} {
			s := Setup{Layout: l, Wheel: mustWheel("60-2"), References: []Reference{{l.At(0), off - 300, FromCam}}}
			speed, err := Cranking(s, Recording{Crank: rec.Crank, Cam: rec.Cam})
			if err != nil {
				t.Fatal(err)
			}
			current, err := StarterCompression(s, amps)
			if err != nil {
				t.Fatal(err)
			}
			for by, c := range map[string]*Compression{"speed": speed, "current": current} {
				named := slices.Concat(c.Lost, c.Weak)
				told := spokenOf(c.Finding.Notes, "check the angle")
				if right := off == 0; right != slices.Equal(named, []engine.Cylinder{2}) || right == told || !right && len(named) > 0 {
					t.Errorf("%s by %s, angle %.0f° off: names %v, told %v: %s", name, by, off, named, told, c.Finding.Sentence)
				}
				if c.Finding.Verdict == finding.NoMisfire {
					t.Errorf("%s by %s, angle %.0f° off: %s", name, by, off, c.Finding.Sentence)
				}
			}
		}
	}
}

// Six marks learnt while cranking cannot compare five cylinders: that is said.
func TestTooFewMarksLearntWhileCranking(t *testing.T) {
	l, err := engine.Parse("i5")
	if err != nil {
		t.Fatal(err)
	}
	wheel := toothed
	wheel.Teeth, wheel.Missing = 0, 0
	wheel.Marks = []engine.CrankDeg{25, 84, 140, 211, 270, 322}
	rec, _ := crankedEngine(t, "i5", "ring-leak@2:0.2", wheel, 5)
	r, err := Cranking(Setup{Layout: l, Wheel: mustWheel("6u"), References: []Reference{{l.At(0), -300, FromCam}}}, Recording{Crank: rec.Crank, Cam: rec.Cam})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Lost)+len(r.Weak) > 0 || !strings.Contains(r.Finding.Sentence, "6 marks a turn") {
		t.Errorf("names %v and %v: %s", r.Lost, r.Weak, r.Finding.Sentence)
	}
}
