package order

import (
	"fmt"
	"slices"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/signal"
)

// One cut names two dead ones and a weak one (60 %), and in a healthy engine
// nobody.
func TestOneCutNamesTwoDeadAndWeakAndNobody(t *testing.T) {
	for _, c := range []struct {
		layout string
		work   []float64
		cut    int // position in the firing order
	}{
		{"1-5-3-6-2-4", []float64{1, 0, 1, 1, 0, 1}, 3},
		{"1-5-3-6-2-4", []float64{1, 1, 0.6, 1, 1, 1}, 5},
		{"1-5-3-6-2-4", []float64{1, 1, 1, 1, 1, 1}, 0},
		{"1-3-4-2", []float64{0.6, 1, 1, 1}, 2},
		{"1-3-4-2", []float64{1, 1, 1, 1}, 1},
	} {
		t.Run(fmt.Sprint(c.layout, c.work), func(t *testing.T) {
			layout := parse(t, c.layout)
			s := synth{layout: layout, rate: 32000, rpm: 720, seconds: 20, work: c.work, spread: 0.05, noise: 0.1, seed: 5}
			s.miss = func(cycle, position int) bool { return position == c.cut && cycle >= 72 && cycle < 108 } // 12 s to 18 s
			f, err := Analyse(signal.FromMemory(s.sound()), s.rate, Config{Layout: layout, Cuts: []Cut{{layout.At(c.cut), 12, 18}}})
			if err != nil {
				t.Fatal(err)
			}
			var want []engine.Cylinder
			for k, w := range c.work {
				if w < 1 {
					want = append(want, layout.At(k))
				}
			}
			got := Named(f, layout)
			slices.Sort(got)
			slices.Sort(want)
			if !slices.Equal(got, want) {
				t.Errorf("named %v, want %v: %s %q", got, want, f.Sentence, f.Notes)
			}
			if accused := f.Verdict == finding.Misfire; accused != (len(want) > 0) {
				t.Errorf("verdict %q with %d bad: %s", f.Verdict, len(want), f.Sentence)
			}
			if slices.Contains(c.work, 0.6) {
				if q, ok := f.Quantity(fmt.Sprintf("work of cylinder %d", want[0])); !ok || q.Low > 0.6 || q.High < 0.6 {
					t.Errorf("work %+v, want some 0.6", q)
				}
			}
		})
	}
}
