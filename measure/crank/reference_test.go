package crank

import (
	"slices"
	"strings"
	"testing"

	"halforder/engine"
)

// An angle that puts top dead centre where the crank has no compression names nobody and
// says so; the true one names the dead cylinder. Were it believed, sound cylinders would
// look dead.
func TestReferenceThatTheCrankContradicts(t *testing.T) {
	for _, name := range []string{"i3", "i4", "i5", "i6"} {
		s := defaultSim(name, "60-2", 800)
		bad := s.Layout.At(1)
		s.Cycles, s.Dead = 100, map[engine.Cylinder]bool{bad: true}
		right := s.reference()
		r, _ := analyse(t, s, right)
		if !slices.Equal(r.Dead(), []engine.Cylinder{bad}) {
			t.Errorf("%s: names %v: %s", name, r.Dead(), r.Finding.Sentence)
		}
		wrong := slices.Clone(right)
		wrong[0].Deg += cycleDeg / float64(s.Layout.N()) / 2
		r, _ = analyse(t, s, wrong)
		told := slices.ContainsFunc(r.Finding.Notes, func(n string) bool { return strings.Contains(n, "check the angle") })
		if len(r.Dead()) > 0 || !r.Finding.Likelihood.Anonymous || !told {
			t.Errorf("%s: names %v by a wrong angle, told %v: %s", name, r.Dead(), told, r.Finding.Sentence)
		}
	}
}
