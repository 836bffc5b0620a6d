package order

import (
	"errors"
	"math"
	"testing"

	"halforder/finding"
)

// A live sensor gets a verdict within seconds, and the same as its file.
func TestFeelerGivesWhatTheFileGives(t *testing.T) {
	m := anyMounted(parse(t, "i4"), 100, 5)
	m.work[2] = 0
	shakes := m.shakes()
	f, err := NewFeeler(Config{Layout: m.layout}, FeelerSeconds)
	if err != nil {
		t.Fatal(err)
	}
	var short *TooShortError
	if _, err := f.Finding(); err == nil {
		t.Error("a finding of nothing")
	}
	f.Write(shakes[:100])
	if _, err := f.Finding(); !errors.As(err, &short) {
		t.Errorf("after a second: %v", err)
	}
	for from := 100; from < len(shakes); from += 50 {
		f.Write(shakes[from:min(from+50, len(shakes))])
	}
	live, err := f.Finding()
	if err != nil {
		t.Fatal(err)
	}
	whole, err := Feel(shakes, Config{Layout: m.layout})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := live.Quantity(ChanceQuantity)
	b, _ := whole.Quantity(ChanceQuantity)
	if live.Verdict != finding.Misfire || math.Abs(a.Value-b.Value) > 1e-9 {
		t.Errorf("live %s (%g), file %s (%g)", live.Sentence, a.Value, whole.Sentence, b.Value)
	}
}

func TestFeelerForgets(t *testing.T) {
	const span = 12.0
	f, err := NewFeeler(Config{Layout: parse(t, "i4")}, span)
	if err != nil {
		t.Fatal(err)
	}
	piece := make([]Shake, 100)
	for second := range 600 {
		for i := range piece {
			piece[i] = Shake{Seconds: float64(second) + float64(i)/100, Axes: [3]float64{float64(i), 0, 9}}
		}
		f.Write(piece)
	}
	if len(f.shakes) > 3*span*100 {
		t.Errorf("%d samples kept of a sensor of 100 a second", len(f.shakes))
	}
	if got := f.Clone().Seconds(); got > span || got < span-1 {
		t.Errorf("judged by %g s, expected %g", got, span)
	}
	if _, err := NewFeeler(Config{}, span); err == nil {
		t.Error("no layout accepted")
	}
	for _, bad := range []float64{0, -1, 1e9, math.NaN()} {
		if _, err := NewFeeler(Config{Layout: parse(t, "i4")}, bad); err == nil {
			t.Errorf("%g s accepted", bad)
		}
	}
}
