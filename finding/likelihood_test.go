package finding_test

import (
	"math"
	"strings"
	"testing"

	"halforder/finding"

	"pgregory.net/rapid"
)

func TestCanonicalIsTheSameForAllRotations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		letters := rapid.SliceOfN(rapid.SampledFrom([]byte(".wd")), 0, 16).Draw(t, "pattern")
		p := finding.Pattern(letters)
		want := p.Canonical()
		for k := range len(p) {
			if got := p.Rotate(k).Canonical(); got != want {
				t.Fatalf("%q rotated by %d: canonical %q, want %q", p, k, got, want)
			}
		}
		if p.Rotate(len(p)) != p || p.Rotate(-1).Rotate(1) != p {
			t.Fatalf("%q does not rotate back", p)
		}
	})
}

func TestAnonymousLikelihoodSeesNoPosition(t *testing.T) {
	l := finding.Likelihood{Anonymous: true, Else: -20,
		Log: map[finding.Pattern]float64{finding.AllWork(4).With(0, finding.Dead).Canonical(): -1}}
	for k := range 4 {
		if got := l.Of(finding.AllWork(4).With(k, finding.Dead)); got != -1 {
			t.Errorf("firing %d dead: %g, want −1", k, got)
		}
	}
	if got := l.Of(finding.AllWork(4)); got != -20 {
		t.Errorf("an unlisted pattern: %g, want −20", got)
	}
	l.Anonymous = false
	if a, b := l.Of("d..."), l.Of("...d"); a == b {
		t.Errorf("a named likelihood gives %g for both", a)
	}
}

func TestCheckRefuses(t *testing.T) {
	for want, l := range map[string]finding.Likelihood{
		"the engine has 4":       {Log: map[finding.Pattern]float64{"...": 0}},
		"none of . w d":          {Log: map[finding.Pattern]float64{"..x.": 0}},
		"not a finite number":    {Log: map[finding.Pattern]float64{"....": math.NaN()}},
		"of the unlisted patter": {Else: math.Inf(-1)},
	} {
		if err := l.Check(4); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", l, err, want)
		}
	}
}
