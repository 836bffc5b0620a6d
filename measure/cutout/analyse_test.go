package cutout_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/cutout"
	"halforder/tools/idlesim"
)

// test is a cut-out test on the independent idle simulator.
type test struct {
	car    idlesim.Car
	order  []engine.Cylinder
	loads  []idlesim.Load
	rate   float64
	seed   uint64
	wrong  map[int]engine.Cylinder // cut → cylinder really cut
	marked bool
}

const (
	firstCut, cutLength, cutEvery = 10.0, 4.0, 14.0
)

func (x test) record() cutout.Recording {
	var cuts []idlesim.Cut
	for i, c := range x.order {
		at := firstCut + cutEvery*float64(i)
		if other, ok := x.wrong[i]; ok {
			c = other
		}
		cuts = append(cuts, idlesim.Cut{Start: at, End: at + cutLength, Cylinders: []engine.Cylinder{c}})
	}
	tr := idlesim.Run(x.car, cuts, x.loads, firstCut+cutEvery*float64(len(cuts))+6, x.seed)
	r := cutout.Recording{Layout: x.car.Layout}
	r.Speed.T, r.Speed.Y = tr.Sample(idlesim.RPM, x.rate, 1, 0.25, x.seed)
	air := cutout.Effort{Name: "air"}
	air.T, air.Y = tr.Sample(idlesim.Air, min(x.rate, 10), 0.01, 0.01, x.seed+1)
	r.Efforts = []cutout.Effort{air}
	rng := rand.New(rand.NewPCG(x.seed, 7))
	for i, c := range x.order {
		if !x.marked {
			r.Called = append(r.Called, []engine.Cylinder{c})
			continue
		}
		late := 0.7 + 0.3*rng.NormFloat64()
		r.Marks = append(r.Marks, cutout.Mark{At: cuts[i].Start - late, Cylinders: []engine.Cylinder{c}}, cutout.Mark{At: cuts[i].End - late, On: true})
	}
	return r
}

func (x test) analyse(t testing.TB) cutout.Result {
	t.Helper()
	r, err := cutout.Analyse(x.record())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func abba(l engine.Layout) (out []engine.Cylinder) {
	for _, u := range cutout.ABBA(cutout.Units(l, false)) {
		out = append(out, u...)
	}
	return out
}

func car(t testing.TB, name string, weak map[engine.Cylinder]float64) idlesim.Car {
	c := idlesim.Healthy(layout(t, name))
	for k, v := range weak {
		c.Strength[k-1] = v
	}
	return c
}

func expect(t *testing.T, what string, r cutout.Result, want map[engine.Cylinder]cutout.Verdict) {
	t.Helper()
	for _, c := range r.Cylinders {
		w := cutout.Works
		if v, ok := want[c.Number]; ok {
			w = v
		}
		if c.Verdict != w {
			t.Errorf("%s: cylinder %d: %s, want %s (strength %.2f±%.2f); %s", what, c.Number, c.Verdict, w, c.Strength.Value, c.Strength.Sigma, r.Sentence())
		}
	}
}

func TestVerdicts(t *testing.T) {
	dead3 := map[engine.Cylinder]cutout.Verdict{3: cutout.Dead}
	for name, row := range map[string]struct {
		engine string
		weak   map[engine.Cylinder]float64
		want   map[engine.Cylinder]cutout.Verdict
	}{
		"healthy four":   {"i4", nil, nil},
		"one dead":       {"i4", map[engine.Cylinder]float64{3: 0}, dead3},
		"one weak":       {"i4", map[engine.Cylinder]float64{2: 0.5}, map[engine.Cylinder]cutout.Verdict{2: cutout.Weak}},
		"dead and weak":  {"i6", map[engine.Cylinder]float64{3: 0, 5: 0.5}, map[engine.Cylinder]cutout.Verdict{3: cutout.Dead, 5: cutout.Weak}},
		"two companions": {"i6", map[engine.Cylinder]float64{3: 0, 4: 0}, map[engine.Cylinder]cutout.Verdict{3: cutout.Dead, 4: cutout.Dead}},
	} {
		x := test{car: car(t, row.engine, row.weak), rate: 10, seed: 3, marked: true}
		x.order = abba(x.car.Layout)
		expect(t, name, x.analyse(t), row.want)
	}
}

// Issue: to 0.5 s with 10 Hz speed.
func TestCutTimes(t *testing.T) {
	for _, marked := range []bool{true, false} {
		x := test{car: car(t, "i4", map[engine.Cylinder]float64{3: 0.6}), rate: 10, seed: 5, marked: marked}
		x.order = abba(x.car.Layout)
		r := x.analyse(t)
		if len(r.Cuts) != len(x.order) {
			t.Fatalf("marked %v: %d cuts found, want %d", marked, len(r.Cuts), len(x.order))
		}
		for i, c := range r.Cuts {
			start := firstCut + cutEvery*float64(i)
			if math.Abs(c.Start-start) > 0.5 || math.Abs(c.End-start-cutLength) > 0.5 {
				t.Errorf("marked %v: cut %d is %.2f–%.2f s, want %.2f–%.2f", marked, i+1, c.Start, c.End, start, start+cutLength)
			}
		}
	}
}

// The idle control takes all of the drop away within a second; a fan and a
// compressor come and go; the engine warms up.
func TestSurvives(t *testing.T) {
	dead := map[engine.Cylinder]cutout.Verdict{3: cutout.Dead}
	base := func() test {
		x := test{car: car(t, "i4", map[engine.Cylinder]float64{3: 0}), rate: 10, seed: 11, marked: true}
		x.order = abba(x.car.Layout)
		return x
	}
	x := base()
	x.car.Spark, x.car.Air, x.car.Integral = 3, 2, 5
	expect(t, "full recovery", x.analyse(t), dead)
	x = base()
	x.loads = []idlesim.Load{{Start: 26, End: 60, Share: 0.12}, {Start: 68, End: 75, Share: 0.2}, {Start: 96, End: 110, Share: 0.15}}
	expect(t, "fan and compressor", x.analyse(t), dead)
	x = base()
	x.car.WarmUp, x.car.WarmUpS = 0.25, 60
	expect(t, "warm-up", x.analyse(t), dead)
	x = base()
	x.order = []engine.Cylinder{1, 2, 2, 3, 4, 4, 3, 3, 1}
	expect(t, "same cylinder twice", x.analyse(t), dead)
	x = base()
	x.car.Spark, x.car.Air, x.car.Integral = 0, 0, 0
	expect(t, "no idle control", x.analyse(t), dead)
}

// Called 2 but pulled the dead 3: the good cylinder 2 must not be accused.
func TestWrongCylinderAccusesNobody(t *testing.T) {
	x := test{car: car(t, "i4", map[engine.Cylinder]float64{3: 0}), rate: 10, seed: 2, marked: true, wrong: map[int]engine.Cylinder{1: 3}}
	x.order = abba(x.car.Layout)
	r := x.analyse(t)
	if v := r.Cylinders[1].Verdict; v == cutout.Weak || v == cutout.Dead {
		t.Errorf("cylinder 2 is called %s: %s", v, r.Sentence())
	}
	if v := r.Cylinders[2].Verdict; v != cutout.Dead {
		t.Errorf("cylinder 3 is called %s, want dead", v)
	}
}

func TestStall(t *testing.T) {
	x := test{car: car(t, "i3", map[engine.Cylinder]float64{2: 0}), rate: 10, seed: 4, marked: true}
	x.car.Spark, x.car.Air, x.car.Integral = 0.3, 0.2, 0.3
	x.order = []engine.Cylinder{1, 2, 3}
	x.loads = []idlesim.Load{{Start: firstCut, End: firstCut + 3, Share: 0.6}}
	r := x.analyse(t)
	if !slices.ContainsFunc(r.Cuts, func(c cutout.Cut) bool { return c.Stalled }) {
		t.Fatal("the simulated engine kept running")
	}
	for _, c := range r.Cylinders {
		if c.Number != 2 && (c.Verdict == cutout.Dead || c.Verdict == cutout.Weak) {
			t.Errorf("cylinder %d, whose cut stopped the engine, is called %s", c.Number, c.Verdict)
		}
	}
	if _, err := json.Marshal(r.Cuts); err != nil {
		t.Errorf("cuts of a stalled engine cannot be written: %v", err)
	}
	if !strings.Contains(strings.Join(r.Notes, " "), "stopped") {
		t.Errorf("nothing is said of the stall: %v", r.Notes)
	}
}

// A wasted-spark coil takes a pair: one dead of two is named as a set.
// A three-cylinder with one dead stops at every cut of the other two: what stops
// it works, and the one that changes nothing is named.
func TestThreeCylinderThatStallsNamesTheDeadOne(t *testing.T) {
	for seed := uint64(1); seed < 4; seed++ {
		x := test{car: car(t, "i3", map[engine.Cylinder]float64{3: 0}), rate: 10, seed: seed, marked: true}
		x.car.Spark, x.car.Air, x.car.Integral = 0, 0, 0.1
		x.order = abba(x.car.Layout)
		for i, c := range x.order {
			if at := firstCut + cutEvery*float64(i); c != 3 {
				x.loads = append(x.loads, idlesim.Load{Start: at, End: at + 3, Share: 0.6})
			}
		}
		r := x.analyse(t)
		if r.Cylinders[2].Verdict != cutout.Dead {
			t.Errorf("seed %d: dead cylinder 3: %s", seed, r.Sentence())
		}
		for _, c := range r.Cylinders[:2] {
			if c.Verdict == cutout.Weak || c.Verdict == cutout.Dead {
				t.Errorf("seed %d: cylinder %d, whose cut stops the engine: %s", seed, c.Number, r.Sentence())
			}
		}
	}
}

func TestPairIsNamedAsASet(t *testing.T) {
	l := layout(t, "i4")
	c := car(t, "i4", map[engine.Cylinder]float64{3: 0})
	var cuts []idlesim.Cut
	r := cutout.Recording{Layout: l}
	for i, u := range cutout.ABBA(append(cutout.Units(l, true), cutout.Units(l, true)...)) {
		at := 10 + 14*float64(i)
		cuts = append(cuts, idlesim.Cut{Start: at, End: at + 3, Cylinders: u})
		r.Marks = append(r.Marks, cutout.Mark{At: at - 0.6, Cylinders: u}, cutout.Mark{At: at + 2.5, On: true})
	}
	c.IdleRPM = 1300
	c.Spark, c.Air = 0.5, 1.5
	tr := idlesim.Run(c, cuts, nil, 10+14*float64(len(cuts)), 9)
	r.Speed.T, r.Speed.Y = tr.Sample(idlesim.RPM, 10, 1, 0.25, 9)
	got, err := cutout.Analyse(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []int{2, 3} {
		if v := got.Cylinders[k-1].Verdict; v != cutout.CannotTell {
			t.Errorf("cylinder %d of the pair is called %s", k, v)
		}
	}
	if len(got.Sets) != 1 || !reflect.DeepEqual(got.Sets[0].Cylinders, []engine.Cylinder{2, 3}) || len(got.Sets[0].Repeat) == 0 {
		t.Errorf("sets %+v, want 2 and 3; %s", got.Sets, got.Sentence())
	}
}

func TestFindingIsUsable(t *testing.T) {
	x := test{car: car(t, "i6", map[engine.Cylinder]float64{5: 0}), rate: 10, seed: 8, marked: true}
	x.order = abba(x.car.Layout)
	f := x.analyse(t).Finding()
	if f.Verdict != finding.Misfire || !strings.Contains(f.Sentence, "5") {
		t.Errorf("%s: %s", f.Verdict, f.Sentence)
	}
	if err := f.Likelihood.Check(6); err != nil {
		t.Error(err)
	}
	dead := finding.AllWork(6).With(x.car.Layout.Position(5), finding.Dead)
	if gain := f.Likelihood.Of(dead) - f.Likelihood.Of(finding.AllWork(6)); gain < 5 {
		t.Errorf("5 dead is favoured by %.1f over a healthy engine, want more than 5", gain)
	}
	for _, q := range f.Quantities {
		if math.IsNaN(q.Value) || !(q.Low <= q.Value && q.Value <= q.High) {
			t.Errorf("quantity %+v", q)
		}
	}
	if q, ok := f.Quantity("cylinder 5 strength"); !ok || q.Low > 0 || q.High < 0 {
		t.Errorf("strength of 5: %+v, want an interval around 0", q)
	}
	if len(f.Series) != 2 {
		t.Errorf("%d series, want a time line and the cylinders", len(f.Series))
	}
}

// Silence and noise accuse nobody.
func TestNoiseAccusesNobody(t *testing.T) {
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 1))
		spread := []float64{0, 2, 10, 40}[seed%4]
		r := cutout.Recording{Layout: must("i4")}
		for i := range 600 {
			r.Speed.T, r.Speed.Y = append(r.Speed.T, float64(i)/10), append(r.Speed.Y, 750+spread*rng.NormFloat64())
		}
		for i, c := range r.Layout.Cylinders() {
			at := 8 + 12*float64(i)
			r.Marks = append(r.Marks, cutout.Mark{At: at, Cylinders: []engine.Cylinder{c}}, cutout.Mark{At: at + 4, On: true})
		}
		got, err := cutout.Analyse(r)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range got.Cylinders {
			if c.Verdict == cutout.Weak || c.Verdict == cutout.Dead {
				t.Errorf("seed %d, noise of %g rpm: cylinder %d is called %s", seed, spread, c.Number, c.Verdict)
			}
		}
	}
}

func must(text string) engine.Layout {
	l, err := engine.Parse(text)
	if err != nil {
		panic(err)
	}
	return l
}

func TestRefusals(t *testing.T) {
	good := test{car: car(t, "i4", nil), rate: 10, seed: 1, order: []engine.Cylinder{1, 2}, marked: true}.record()
	for name, spoil := range map[string]func(*cutout.Recording){
		"no engine":             func(r *cutout.Recording) { r.Layout = engine.Layout{} },
		"one cylinder":          func(r *cutout.Recording) { r.Layout = must("1") },
		"too slow":              func(r *cutout.Recording) { r.Speed = every(r.Speed, 10) },
		"too short":             func(r *cutout.Recording) { r.Speed.T, r.Speed.Y = r.Speed.T[:20], r.Speed.Y[:20] },
		"no number":             func(r *cutout.Recording) { r.Speed.Y = append(slices.Clone(r.Speed.Y[:len(r.Speed.Y)-1]), math.NaN()) },
		"backwards":             func(r *cutout.Recording) { r.Speed.T = slices.Clone(r.Speed.T); slices.Reverse(r.Speed.T) },
		"cylinder 9":            func(r *cutout.Recording) { r.Marks = []cutout.Mark{{At: 10, Cylinders: []engine.Cylinder{9}}} },
		"cylinder twice":        func(r *cutout.Recording) { r.Called = [][]engine.Cylinder{{1, 1}} },
		"mark of another clock": func(r *cutout.Recording) { r.Marks = []cutout.Mark{{At: 1e12, Cylinders: []engine.Cylinder{1}}} },
		"a week":                func(r *cutout.Recording) { r.Speed.T = append(slices.Clone(r.Speed.T[:len(r.Speed.T)-1]), 6e5) },
		"mark without time":     func(r *cutout.Recording) { r.Marks = []cutout.Mark{{At: math.NaN()}} },
	} {
		r := good
		spoil(&r)
		if _, err := cutout.Analyse(r); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func every(t cutout.Track, k int) (out cutout.Track) {
	for i := 0; i < len(t.T); i += k {
		out.T, out.Y = append(out.T, t.T[i]), append(out.Y, t.Y[i])
	}
	return out
}
