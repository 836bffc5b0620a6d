package crank

import (
	"fmt"
	"slices"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/practice"
)

// On six uneven marks that nobody has measured the weak cylinder is named all
// the same, sound ones are left alone, and two low ones a turn apart, which look
// like marks out of place, are not called even.
func TestLearntMarksWhileCranking(t *testing.T) {
	for _, c := range []struct {
		layout string
		leaks  []engine.Cylinder
		weak   []engine.Cylinder
	}{
		{"i3", []engine.Cylinder{2}, []engine.Cylinder{2}}, {"i3", nil, nil},
		{"i4", []engine.Cylinder{3}, []engine.Cylinder{3}}, {"i4", nil, nil},
		{"i4", []engine.Cylinder{2, 3}, nil},
	} {
		for seed := range uint64(2) {
			r := crankedOnLearntMarks(t, c.layout, c.leaks, seed+1)
			if got := append(r.Lost, r.Weak...); !slices.Equal(got, c.weak) {
				t.Errorf("%s leaking %v, seed %d: named %v of %.2f: %s", c.layout, c.leaks, seed, got, r.Relative, r.Finding.Sentence)
			}
			if len(c.leaks) > 1 && r.Finding.Verdict != finding.CannotTell {
				t.Errorf("%s leaking %v, seed %d: %s", c.layout, c.leaks, seed, r.Finding.Sentence)
			}
		}
	}
}

// crankedOnLearntMarks is an engine cranked for five seconds, some cylinders
// leaking down to some three quarters of the others' pressure.
func crankedOnLearntMarks(t *testing.T, layout string, leaks []engine.Cylinder, seed uint64) *Compression {
	t.Helper()
	l, err := engine.Parse(layout)
	if err != nil {
		t.Fatal(err)
	}
	faults := ""
	for _, c := range leaks {
		faults += fmt.Sprintf(" ring-leak@%d:0.12", c)
	}
	wheel := practice.Wheel{SpacingDeg: 0.03, JitterSeconds: 2e-6, RunoutDeg: 0.1, Marks: []engine.CrankDeg{25, 84, 140, 211, 270, 322}}
	rec, _ := crankedEngine(t, layout, faults, wheel, seed)
	r, err := Cranking(Setup{Layout: l, Wheel: mustWheel("6u"), References: []Reference{{l.At(0), -300, FromCam}}}, Recording{Crank: rec.Crank, Cam: rec.Cam})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The same on an engine from elsewhere, whose compressions have another shape:
// nobody sound is accused and nobody weak called even; a three-cylinder turned
// slowly shows its weak one.
func TestLearntMarksOnAnotherEngine(t *testing.T) {
	named := 0
	for _, layout := range []string{"i3", "i4", "i5"} {
		for seed := range uint64(3) {
			for _, weak := range []engine.Cylinder{0, 1 + engine.Cylinder(seed)} {
				s := defaultSim(layout, "6@0-56-127-186-238-301", 180)
				s.Starter, s.Cycles, s.Seed, s.Road, s.Belt, s.Jitter = 11, 12, seed+1, 0, 0, 5e-6
				s.TopAt = 20 + 50*float64(seed)
				if weak > 0 {
					s.Weak = map[engine.Cylinder]float64{weak: 0.75}
				}
				rec, _ := s.run()
				r, err := Cranking(Setup{Layout: s.Layout, Wheel: mustWheel("6u"), References: s.reference()}, rec)
				if err != nil {
					t.Fatal(err)
				}
				got := append(r.Lost, r.Weak...)
				if len(got) > 0 && !slices.Equal(got, []engine.Cylinder{weak}) || weak > 0 && r.Finding.Verdict == finding.NoMisfire {
					t.Errorf("%s seed %d, weak %d: named %v of %.2f: %s", layout, s.Seed, weak, got, r.Relative, r.Finding.Sentence)
				}
				if layout == "i3" && len(got) > 0 {
					named++
				}
			}
		}
	}
	if named < 3 {
		t.Errorf("weak one of three named %d times of 3", named)
	}
}
