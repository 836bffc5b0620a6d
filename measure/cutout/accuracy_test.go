package cutout_test

import (
	"testing"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/tools/idlesim"
)

// The short form of go run ./tools/cutoutcheck: random engines of three to eight
// cylinders with none to two faults, fans, warm-up and a hand with a button,
// each cylinder forwards and backwards. Wanted: at least 97 % right and at most
// 0.5 % of good ones accused, over hundreds; here a handful must accuse nobody.
func TestAccuracy(t *testing.T) {
	right, all := 0, 0
	for seed := uint64(9000); seed < 9005; seed++ {
		c := idlesim.Random(seed, idlesim.Options{Faults: -1, Marked: true, Rate: 10})
		r, err := cutout.Analyse(recordingOf(c))
		if err != nil {
			t.Fatal(err)
		}
		for i, truth := range c.Truth() {
			v := r.Cylinders[i].Verdict
			all++
			if v == cutout.VerdictOf(truth) {
				right++
			}
			if truth > 0.85 && (v == cutout.Weak || v == cutout.Dead) {
				t.Errorf("seed %d: cylinder %d of strength %.2f is called %s", seed, i+1, truth, v)
			}
			if truth < 0.15 && v == cutout.Works {
				t.Errorf("seed %d: dead cylinder %d is called good", seed, i+1)
			}
		}
	}
	if float64(right) < 0.85*float64(all) {
		t.Errorf("%d of %d cylinders right", right, all)
	}
}

func recordingOf(c idlesim.Case) cutout.Recording {
	r := cutout.Recording{Layout: c.Car.Layout}
	r.Speed.T, r.Speed.Y = c.Trace.Sample(idlesim.RPM, c.Rate, c.Noise, c.Quantum, c.Seed)
	air := cutout.Effort{Name: "air"}
	air.T, air.Y = c.Trace.Sample(idlesim.Air, 5, 0.02, 0.01, c.Seed+1)
	r.Efforts = []cutout.Effort{air}
	for _, call := range c.Called {
		r.Marks = append(r.Marks, cutout.Mark{At: call.Off, Cylinders: call.Cylinders}, cutout.Mark{At: call.On, On: true})
	}
	return r
}

// Law: relabelling the cylinders relabels the answer; another unit or zero of
// the effort, and another start of the clock, change nothing.
func TestRelabellingAndUnits(t *testing.T) {
	c := idlesim.Random(77, idlesim.Options{Cylinders: 4, Faults: 1, Marked: true, Rate: 10, NoLoads: true})
	base, err := cutout.Analyse(recordingOf(c))
	if err != nil {
		t.Fatal(err)
	}
	swap := map[engine.Cylinder]engine.Cylinder{1: 4, 4: 1, 2: 3, 3: 2}
	r := recordingOf(c)
	for i, m := range r.Marks {
		if len(m.Cylinders) == 1 {
			r.Marks[i].Cylinders = []engine.Cylinder{swap[m.Cylinders[0]]}
		}
		r.Marks[i].At += 1000
	}
	for i := range r.Speed.T {
		r.Speed.T[i] += 1000
	}
	for i := range r.Efforts[0].T {
		r.Efforts[0].T[i] += 1000
		r.Efforts[0].Y[i] = 40 - 7*r.Efforts[0].Y[i]
	}
	other, err := cutout.Analyse(r)
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range swap {
		a, b := base.Cylinders[k-1], other.Cylinders[v-1]
		if a.Verdict != b.Verdict || a.PWorks-b.PWorks > 0.02 || b.PWorks-a.PWorks > 0.02 {
			t.Errorf("cylinder %d: %s (%.3f), as %d: %s (%.3f)", k, a.Verdict, a.PWorks, v, b.Verdict, b.PWorks)
		}
	}
}

func TestNext(t *testing.T) {
	units := cutout.Units(layout(t, "i4"), false)
	r := cutout.Result{}
	var done []cutout.Unit
	for range 4 {
		p := cutout.Next(r, units, done, 5)
		if p.Done || len(p.Cut) != 1 {
			t.Fatalf("after %d cuts: %+v, want another cylinder", len(done), p)
		}
		done = append(done, p.Cut)
	}
	for n := range 4 {
		r.Cylinders = append(r.Cylinders, cutout.Cylinder{Number: engine.Cylinder(n + 1), Verdict: cutout.Works, PWorks: 0.999, PDead: 0.001, Cuts: 1})
	}
	if p := cutout.Next(r, units, done, 5); !p.Done {
		t.Errorf("all clear: %+v, want the end", p)
	}
	doubtful := done[0][0]
	r.Cylinders[doubtful-1] = cutout.Cylinder{Number: doubtful, Verdict: cutout.CannotTell, PWorks: 0.6, PWeak: 0.3, PDead: 0.1, Cuts: 1}
	if p := cutout.Next(r, units, done, 5); p.Done || p.Cut[0] != doubtful {
		t.Errorf("one in doubt: %+v, want %d again", p, doubtful)
	}
	accused := done[1][0]
	r.Cylinders[accused-1] = cutout.Cylinder{Number: accused, Verdict: cutout.Dead, PWorks: 0.005, PDead: 0.995, Cuts: 1}
	if p := cutout.Next(r, units, done, 5); p.Done || p.Cut[0] != accused {
		t.Errorf("one dead after one cut: %+v, want %d confirmed first", p, accused)
	}
	for range 4 {
		done = append(done, cutout.Unit{doubtful}, cutout.Unit{accused})
	}
	if p := cutout.Next(r, units, done, 5); !p.Done {
		t.Errorf("after five cuts each: %+v, want the end", p)
	}
}

// Whatever numbers come, Analyse answers or refuses.
func FuzzAnalyse(f *testing.F) {
	f.Add([]byte("750 751 750 600 610 700 750"), 10.0, 2.0, uint8(3))
	f.Fuzz(func(t *testing.T, speeds []byte, at, length float64, cylinder uint8) {
		r := cutout.Recording{Layout: must("i4"), Marks: []cutout.Mark{{At: at, Cylinders: []engine.Cylinder{engine.Cylinder(cylinder)}}, {At: at + length, On: true}}}
		for i, b := range speeds {
			r.Speed.T, r.Speed.Y = append(r.Speed.T, float64(i)/5), append(r.Speed.Y, 4*float64(b))
		}
		got, err := cutout.Analyse(r)
		if err != nil {
			return
		}
		if err := got.Patterns.Check(4); err != nil {
			t.Error(err)
		}
	})
}

// Whatever was called and recorded without a button, Analyse answers or refuses,
// and its chances are numbers.
func FuzzByOrder(f *testing.F) {
	f.Add([]byte("750 751 750 600 610 700 750 751 749 640 700 750"), []byte{1, 2, 3, 4}, 5.0)
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}, []byte{1, 2}, 3.0)
	f.Fuzz(func(t *testing.T, speeds, called []byte, rate float64) {
		r := cutout.Recording{Layout: must("i4")}
		for i, b := range speeds[:min(len(speeds), 600)] {
			r.Speed.T, r.Speed.Y = append(r.Speed.T, float64(i)/rate), append(r.Speed.Y, 4*float64(b))
		}
		for _, c := range called[:min(len(called), 12)] {
			r.Called = append(r.Called, []engine.Cylinder{engine.Cylinder(c)})
		}
		got, err := cutout.Analyse(r)
		if err != nil {
			return
		}
		for _, c := range got.Cylinders {
			if sum := c.PWorks + c.PWeak + c.PDead; !(sum > 0.99 && sum < 1.01) {
				t.Errorf("cylinder %d: the chances add up to %g", c.Number, sum)
			}
		}
	})
}

func BenchmarkAnalyse(b *testing.B) {
	r := recordingOf(idlesim.Random(3, idlesim.Options{Cylinders: 6, Faults: 1, Marked: true, Rate: 10}))
	for b.Loop() {
		if _, err := cutout.Analyse(r); err != nil {
			b.Fatal(err)
		}
	}
}

// Without a button: the dead one of each engine is named by order and rhythm, and
// no good one is accused.
func TestNamedByOrder(t *testing.T) {
	right, all := 0, 0
	for seed := uint64(9100); seed < 9103; seed++ {
		c := idlesim.Random(seed, idlesim.Options{Faults: -1, Unmarked: true, Rate: 10})
		r := recordingOf(c)
		r.Marks = nil
		for _, call := range c.Called {
			r.Called = append(r.Called, call.Cylinders)
		}
		got, err := cutout.Analyse(r)
		if err != nil {
			t.Fatal(err)
		}
		for i, truth := range c.Truth() {
			v := got.Cylinders[i].Verdict
			all++
			if v == cutout.VerdictOf(truth) {
				right++
			}
			if truth > 0.85 && (v == cutout.Weak || v == cutout.Dead) {
				t.Errorf("seed %d: cylinder %d of strength %.2f is called %s", seed, i+1, truth, v)
			}
		}
	}
	t.Logf("%d of %d cylinders right", right, all)
	if float64(right) < 0.85*float64(all) {
		t.Errorf("%d of %d cylinders right", right, all)
	}
}
