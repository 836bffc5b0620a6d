package order

import (
	"math"
	"testing"

	"halforder/finding"
)

// The rate of the sensor changes what is in reach, not what is true.
func TestFeelSaysTheSameAtAnyRate(t *testing.T) {
	for seed := range uint64(3) {
		for _, dead := range []bool{false, true} {
			wrong := finding.Misfire
			if dead {
				wrong = finding.NoMisfire
			}
			for _, hz := range []float64{60, 100, 200, 400} {
				m := anyMounted(parse(t, "i4"), hz, 60+seed)
				if dead {
					m.work[1] = 0
				}
				f, err := Feel(m.shakes(), Config{Layout: m.layout})
				if err != nil {
					t.Logf("%g Hz: %v", hz, err)
					continue
				}
				if f.Verdict == wrong {
					t.Errorf("engine %d, dead %v, %g Hz: %s", seed, dead, hz, f.Sentence)
				}
				if q, _ := f.Quantity(SpeedQuantity); math.Abs(q.Value/m.rpm-1) > 0.02 && f.Verdict != finding.CannotTell {
					t.Errorf("engine %d, %g Hz: %.0f rpm, said %.0f", seed, hz, m.rpm, q.Value)
				}
			}
		}
	}
}

// Cylinders are named by their place in the firing order: with other numbers, the
// same recording names the same places.
func TestFeelNumbersTurnWithTheFiringOrder(t *testing.T) {
	m := anyMounted(parse(t, "i4"), 200, 4)
	m.seconds = 24
	m.work[1] = 0
	m.off = func(at float64, k int) bool { return k == 2 && at >= 12 && at < 18 }
	shakes := m.shakes()
	places := map[string][]int{}
	for _, name := range []string{"i4", "i4-1243", "flat4"} {
		layout := parse(t, name)
		f, err := Feel(shakes, Config{Layout: layout, Cuts: []Cut{{layout.At(2), 12, 18}}})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range Named(f, layout) {
			places[name] = append(places[name], layout.Position(c))
		}
		if len(places[name]) != 1 || places[name][0] != 1 {
			t.Errorf("%s: places %v named, expected 1: %s", name, places[name], f.Sentence)
		}
	}
}

// One wrong time stamp must not make a recording of years.
func TestFeelRefusesLeapsOfTime(t *testing.T) {
	m := anyMounted(parse(t, "i4"), 100, 1)
	shakes := m.shakes()
	for _, leap := range []float64{1e3, 1e9, 1e14} {
		shakes[len(shakes)-1].Seconds = leap
		if _, err := Feel(shakes, Config{Layout: m.layout}); err == nil {
			t.Errorf("%g s judged", leap)
		}
	}
}
