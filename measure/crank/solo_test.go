package crank

import (
	"slices"
	"strings"
	"testing"

	"halforder/engine"
)

func spokenOf(notes []string, words string) bool {
	return slices.ContainsFunc(notes, func(n string) bool { return strings.Contains(n, words) })
}

// On six learnt marks too an angle half an interval wrong names nobody: the dead
// cylinder stands between two firings. The right angle names it, and two dead
// neighbours as well.
func TestDeadCylinderBesideItsFiring(t *testing.T) {
	told := 0
	for _, name := range []string{"i3", "i4", "i5", "i6", "v8-18436572"} {
		for _, rpm := range []float64{800, 2500} {
			s := defaultSim(name, "6@0-56-127-186-238-301", rpm)
			s.wheel = mustWheel("6u")
			bad := s.Layout.At(1)
			s.Cycles, s.Dead = 120, map[engine.Cylinder]bool{bad: true}
			right := s.reference()
			r, _ := analyse(t, s, right)
			if !slices.Equal(r.Dead(), []engine.Cylinder{bad}) || spokenOf(r.Finding.Notes, "check the angle") {
				t.Errorf("%s at %.0f rpm: names %v: %s", name, rpm, r.Dead(), r.Finding.Sentence)
			}
			wrong := slices.Clone(right)
			wrong[0].Deg += cycleDeg / float64(s.Layout.N()) / 2
			r, _ = analyse(t, s, wrong)
			if len(r.Dead()) > 0 {
				t.Errorf("%s at %.0f rpm: names %v by a wrong angle: %s", name, rpm, r.Dead(), r.Finding.Sentence)
			}
			if spokenOf(r.Finding.Notes, "misses a firing") {
				told++
			}
			if s.Layout.N() == 3 {
				continue
			}
			s.Dead[s.Layout.At(2)] = true
			r, _ = analyse(t, s, right)
			if spokenOf(r.Finding.Notes, "check the angle") {
				t.Errorf("%s at %.0f rpm: two dead neighbours are taken for one between them: %v", name, rpm, r.Finding.Notes)
			}
		}
	}
	if told == 0 {
		t.Error("no wrong angle was spoken of")
	}
}

// The reference that placed the firings is the one spoken of; two that exclude each
// other name nobody.
func TestContradictionNamesItsReference(t *testing.T) {
	s := defaultSim("i4", "60-2", 800)
	bad := s.Layout.At(1)
	s.Cycles, s.Dead = 100, map[engine.Cylinder]bool{bad: true}
	cam := s.reference()[0]
	byGap := Reference{s.Layout.At(0), s.TopAt, FromGap}
	both := func(camOff, gapOff float64) *Result {
		c, g := cam, byGap
		c.Deg += camOff
		g.Deg += gapOff
		r, _ := analyse(t, s, []Reference{c, g})
		return r
	}
	if r := both(0, 0); !slices.Equal(r.Dead(), []engine.Cylinder{bad}) {
		t.Errorf("both right: names %v", r.Dead())
	}
	if r := both(90, 90); len(r.Dead()) > 0 || !spokenOf(r.Finding.Notes, "after the gap of the wheel, but the crank") {
		t.Errorf("both wrong: names %v, %v", r.Dead(), r.Finding.Notes)
	}
	if r := both(0, 90); len(r.Dead()) > 0 || !spokenOf(r.Finding.Notes, "contradict each other by 90°") {
		t.Errorf("gap wrong: names %v, %v", r.Dead(), r.Finding.Notes)
	}
}
