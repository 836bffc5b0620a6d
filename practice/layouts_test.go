package practice

import (
	"math"
	"testing"

	"halforder/engine"
)

// Every named layout, and some that nobody builds, settles to its idle without
// a miss, and its computer accuses nobody.
func TestEveryLayoutIdlesAndAccusesNobody(t *testing.T) {
	odd := []string{"1", "1-2@0-0", "1-2-3-4@0-0-360-360", "1-2-3-4-5-6-7", "1-2-3-4-5-6-7-8-9", "1-2@0-719", "1-2-3@0-1-2", "1-3-2-4@0-90-360-450",
		"1-3-5-7-9-11-13-15-2-4-6-8-10-12-14-16,banks=1-3-5-7-9-11-13-15/2-4-6-8-10-12-14-16"}
	for _, name := range append(engine.GenericNames(), odd...) {
		e, err := New(testConfig(t, name), Sensors{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		e.RunUntil(6)
		if n := float64(e.rpm()); math.IsNaN(n) || n < 550 || n > 950 {
			t.Errorf("%s idles at %.0f rpm", name, n)
		}
		for _, f := range e.truth.Firings {
			if f.Missed || math.IsNaN(f.WorkJ) {
				t.Errorf("%s: %+v", name, f)
				break
			}
		}
		if wrong := sum(e.computer.monitor.total); float64(wrong) > 0.08*float64(len(e.truth.Firings)) || wrong > 5 {
			t.Errorf("%s: %d of %d firings counted as misfires", name, wrong, len(e.truth.Firings))
		}
	}
}
