package order

import (
	"math"
	"strings"
	"testing"

	"halforder/finding"
)

// sensed is a finding of a four with given odds for one dead cylinder.
func sensed(analysis string, odds, rpm float64) finding.Finding {
	f := finding.Finding{Analysis: analysis, Verdict: finding.CannotTell, Sentence: "as made up"}
	switch {
	case odds >= misfireOdds:
		f.Verdict = finding.Misfire
	case odds <= noMisfireOdds:
		f.Verdict = finding.NoMisfire
	}
	chance := 1 / (1 + math.Exp(-odds))
	f.Quantities = []finding.Quantity{
		{Name: SpeedQuantity, Unit: "rpm", Value: rpm, Low: rpm - 5, High: rpm + 5, Confidence: confidence},
		{Name: MissingQuantity, Unit: "cylinders", Value: 0.8, Low: 0.5, High: 1.1, Confidence: confidence},
		{Name: ChanceQuantity, Value: chance, Low: chance, High: chance, Confidence: confidence},
	}
	f.Likelihood = &finding.Likelihood{Anonymous: true, Else: -1, Log: map[finding.Pattern]float64{"....": 0, "...d": odds}}
	return f
}

func chanceOdds(f finding.Finding) float64 { return rawOdds(f) }

func TestFuseCountsSensorsByWhatTheyAddAnew(t *testing.T) {
	i4 := parse(t, "i4")
	fuse := func(a, b finding.Finding) finding.Finding {
		f, err := Fuse(i4, Sensed{"one", a}, Sensed{"two", b})
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	alike := fuse(sensed(Name, 2, 800), sensed(Name, 2, 802))
	ways := fuse(sensed(Name, 2, 800), sensed(FeelName, 2, 802))
	mute := fuse(sensed(Name, 2, 800), sensed(FeelName, 0, 802))
	if a, w := chanceOdds(alike), chanceOdds(ways); !(a > 2 && a < w && w < 4) {
		t.Errorf("two microphones give %.2f, sound and motion %.2f: want 2 < first < second < 4", a, w)
	}
	if m := chanceOdds(mute); math.Abs(m-2) > 1e-9 {
		t.Errorf("a sensor that says nothing makes 2 to %.2f", m)
	}
	if l := alike.Likelihood.Of("d..."); !(l > 2 && l < 4) || alike.Verdict != finding.Misfire {
		t.Errorf("likelihood %.2f, %s", l, alike.Sentence)
	}
	weak := fuse(sensed(Name, 1, 800), sensed(FeelName, 1, 800))
	if weak.Verdict != finding.CannotTell && chanceOdds(weak) < misfireOdds {
		t.Error(weak.Sentence)
	}
}

func TestFuseTakesContradictionsForWhatTheyAre(t *testing.T) {
	i4 := parse(t, "i4")
	for want, pair := range map[string][2]finding.Finding{
		"says it misfires": {sensed(Name, 4, 800), sensed(FeelName, -3, 800)},
		"1600 rpm":         {sensed(Name, 3, 800), sensed(FeelName, 3, 1600)},
	} {
		f, err := Fuse(i4, Sensed{"sound", pair[0]}, Sensed{"motion", pair[1]})
		if err != nil {
			t.Fatal(err)
		}
		if f.Verdict != finding.CannotTell || !strings.Contains(f.Sentence, want) || math.Abs(chanceOdds(f)) > 1e-9 || f.Likelihood.Of("...d") != 0 {
			t.Errorf("%s %v", f.Sentence, f.Likelihood)
		}
	}
}

// A sensor with names gives them to one without.
func TestFuseKeepsNames(t *testing.T) {
	i4 := parse(t, "i4")
	named := sensed(Name, 3, 800)
	named.Likelihood = &finding.Likelihood{Else: -8, Log: map[finding.Pattern]float64{"....": -6, ".d..": 0, "d...": -6, "..d.": -7, "...d": -7}}
	f, err := Fuse(i4, Sensed{"sound", named}, Sensed{"motion", sensed(FeelName, 3, 800)})
	if err != nil {
		t.Fatal(err)
	}
	if got := Named(f, i4); len(got) != 1 || got[0] != i4.At(1) || !strings.Contains(f.Sentence, "Cylinder 3") {
		t.Errorf("named %v: %s", got, f.Sentence)
	}
}

func TestFuseRefuses(t *testing.T) {
	i4 := parse(t, "i4")
	one := Sensed{"one", sensed(Name, 2, 800)}
	for want, sensed := range map[string][]Sensed{
		"two findings": {one},
		"of cylinders": {one, {"two", finding.Finding{}}},
		"3 firings":    {one, {"two", finding.Finding{Likelihood: &finding.Likelihood{Log: map[finding.Pattern]float64{"...": 0}}}}},
	} {
		if _, err := Fuse(i4, sensed...); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// Sensors that differ by more than their intervals allow widen the joint one;
// sensors that agree leave it.
func TestFuseWidensWhereSensorsDisagree(t *testing.T) {
	width := func(other float64) float64 {
		a, b := sensed(Name, 2, 800), sensed(FeelName, 2, 800)
		b.Quantities[1].Value, b.Quantities[1].Low, b.Quantities[1].High = other, other-0.3, other+0.3
		f, err := Fuse(parse(t, "i4"), Sensed{"one", a}, Sensed{"two", b})
		if err != nil {
			t.Fatal(err)
		}
		q, _ := f.Quantity(MissingQuantity)
		if q.Value < min(0.8, other) || q.Value > max(0.8, other) || q.Low > q.Value || q.High < q.Value {
			t.Errorf("0.8 and %g make %v", other, q)
		}
		return q.High - q.Low
	}
	agree, near, far := width(0.8), width(0.9), width(1.9)
	if math.Abs(agree-0.6) > 1e-9 || math.Abs(near-0.6) > 1e-9 || far < 1.5*agree {
		t.Errorf("widths %.2f where they agree, %.2f near by, %.2f far off", agree, near, far)
	}
}

// Sensors of which none can tell give no all-clear together.
func TestFuseMakesNoAllClearOfDoubts(t *testing.T) {
	a, b := sensed(Name, -3, 800), sensed(FeelName, -3, 800)
	a.Verdict, b.Verdict = finding.CannotTell, finding.CannotTell
	f, err := Fuse(parse(t, "i4"), Sensed{"one", a}, Sensed{"two", b})
	if err != nil || f.Verdict != finding.CannotTell {
		t.Errorf("%s %v", f.Sentence, err)
	}
}
