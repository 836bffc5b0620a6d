package cutout

import (
	"math"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// What a test says does not depend on where between two steps of the scale the
// effect of a healthy cylinder happens to lie.
func TestPlaceBetweenStepsOfTheScaleDoesNotMatter(t *testing.T) {
	l, err := engine.Parse("1-8-4-3-6-5-7-2")
	if err != nil {
		t.Fatal(err)
	}
	patterns := patternsOf(l)
	prior := priorLog(patterns)
	weak := finding.AllWork(l.N()).With(l.Position(3), finding.Weak)
	for _, step := range []float64{0.7, 1.2} {
		step = 6 * step / (coarseScales - 1)
		least, most := math.Inf(1), math.Inf(-1)
		for part := range 6 {
			effect := 40 * math.Exp(step*float64(part)/6)
			var cuts []Cut
			ch := channel{off: alwaysOff}
			for _, c := range append(l.Cylinders(), l.Cylinders()...) {
				own := effect
				if c == 3 {
					own *= 0.8
				}
				cuts = append(cuts, Cut{Cylinders: []engine.Cylinder{c}})
				ch.cuts = append(ch.cuts, []Estimate{{own, 0.05 * effect}, {own, 0.05 * effect}})
			}
			ch.scales, ch.logP = logNormal(40, step*(coarseScales-1)/6, coarseScales)
			ch = ch.narrowed(l, cuts, patterns, prior)
			w := newWeigher(l, cuts, []channel{ch}, ch.alone(), usualMix(patterns, prior))
			apart := w.log(weak) - w.log(finding.AllWork(l.N()))
			least, most = math.Min(least, apart), math.Max(most, apart)
		}
		if most-least > 0.05 {
			t.Errorf("steps of %.2f: a weak cylinder is %.2f to %.2f more likely, natural logarithm", step, least, most)
		}
	}
}
