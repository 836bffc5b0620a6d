package crank

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/tools/roughroad"
)

func analyse(t testing.TB, s simEngine, refs []Reference) (*Result, roughroad.Truth) {
	t.Helper()
	rec, truth := s.run()
	r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: refs}, rec)
	if err != nil {
		t.Fatalf("%s %s seed %d: %v", s.Layout, s.wheel, s.Seed, err)
	}
	if err := r.Finding.Likelihood.Check(s.Layout.N()); err != nil {
		t.Error(err)
	}
	if _, err := json.Marshal(r.Finding); err != nil {
		t.Errorf("finding as JSON: %v", err)
	}
	return r, truth
}

func TestHealthyAccusesNobody(t *testing.T) {
	for _, layout := range []string{"i3", "i4", "i5", "i6", "flat4", "v8-18436572", "v10", "v12"} {
		for _, wheel := range []string{"60-2", "36-1", "24"} {
			for i, rpm := range []float64{750, 3000, 6000} {
				s := defaultSim(layout, wheel, rpm)
				s.Cycles, s.Seed = 80, uint64(10+i)
				r, _ := analyse(t, s, s.reference())
				if r.Finding.Verdict == finding.Misfire || len(r.Dead()) > 0 {
					t.Errorf("%s %s %.0f seed %d: %s", layout, wheel, rpm, s.Seed, r.Finding.Sentence)
				}
			}
		}
	}
}

func TestSpacingAloneAccusesNobody(t *testing.T) {
	for seed := range uint64(12) {
		s := defaultSim([]string{"i3", "i4", "i6", "v8-18436572"}[seed%4], []string{"60-2", "36-1", "24"}[seed%3], []float64{1500, 3000, 6000}[seed/4])
		s.Cycles, s.Seed, s.Spacing, s.Runout = 100, seed, 0.12, 0.5
		r, _ := analyse(t, s, s.reference())
		if r.Finding.Verdict == finding.Misfire {
			t.Errorf("seed %d %s %s: %s", seed, s.Layout, s.wheel, r.Finding.Sentence)
		}
	}
}

// Under load at 6000 rpm a firing brings several times what an unloaded one does:
// a cylinder that gives a tenth less than the others is no dead one.
func TestUnevenLoadedEngineAccusesNobody(t *testing.T) {
	for _, layout := range []string{"i4", "i6"} {
		for i, share := range []float64{0.95, 0.9} {
			s := defaultSim(layout, "36-1", 6000)
			s.Cycles, s.Seed, s.Load, s.Cycle, s.Weak = 300, uint64(i), 1.2, 0.03, map[engine.Cylinder]float64{3: share}
			r, _ := analyse(t, s, s.reference())
			if r.Finding.Verdict == finding.Misfire || len(r.Dead())+len(r.Missing()) > 0 {
				t.Errorf("%s, cylinder 3 at %g: %s", layout, share, r.Finding.Sentence)
			}
		}
	}
}

func TestDeadCylinderIsNamed(t *testing.T) {
	for _, layout := range []string{"i3", "i4", "i5", "i6", "v8-18436572", "v12"} {
		for i, rpm := range []float64{750, 2000, 5000} {
			s := defaultSim(layout, []string{"60-2", "36-1", "24"}[i], rpm)
			bad := engine.Cylinder(1 + (i*5+2)%s.Layout.N())
			s.Cycles, s.Seed, s.Dead = 80, uint64(i), map[engine.Cylinder]bool{bad: true}
			r, _ := analyse(t, s, s.reference())
			if !slices.Equal(r.Dead(), []engine.Cylinder{bad}) || r.Finding.Verdict != finding.Misfire {
				t.Errorf("%s %.0f rpm: dead %v, want %d: %s", layout, rpm, r.Dead(), bad, r.Finding.Sentence)
			}
			right := finding.AllWork(s.Layout.N()).With(s.Layout.Position(bad), finding.Dead)
			l := r.Finding.Likelihood
			if l.Of(right) <= l.Of(finding.AllWork(s.Layout.N()))+3 {
				t.Errorf("%s %.0f rpm: likelihood %g for %s, %g for all working", layout, rpm, l.Of(right), right, l.Of(finding.AllWork(s.Layout.N())))
			}
		}
	}
}

// Rotating which cylinder is cut rotates the answer and changes nothing else.
func TestFiringOrderRotates(t *testing.T) {
	l, _ := engine.Parse("i6")
	for k := range l.N() {
		s := defaultSim("i6", "60-2", 900)
		s.Cycles, s.Dead = 60, map[engine.Cylinder]bool{l.At(k): true}
		r, _ := analyse(t, s, s.reference())
		if !slices.Equal(r.Dead(), []engine.Cylinder{l.At(k)}) {
			t.Errorf("position %d: %s", k, r.Finding.Sentence)
		}
	}
}

func TestMissesAreFoundWithFewFalseAlarms(t *testing.T) {
	for _, c := range []struct {
		layout, wheel string
		rpm, least    float64
	}{{"i3", "36-1", 800, 0.98}, {"i4", "60-2", 800, 0.98}, {"i4", "24", 3000, 0.98}, {"i5", "60-2", 1500, 0.98},
		{"i6", "36-2-1/17-16", 3000, 0.98}, {"v8-18436572", "60-2", 3000, 0.98}, {"i4", "6@0-56-127-186-238-301", 2000, 0.98}, {"i4", "60-2", 6000, 0.9}, {"v8-18436572", "60-2", 6000, 0.9}} {
		s := defaultSim(c.layout, c.wheel, c.rpm)
		s.Cycles, s.MissP = 300, map[engine.Cylinder]float64{2: 0.08, 3: 0.03}
		r, truth := analyse(t, s, s.reference())
		hit, all, alarms, good := score(s, r, truth)
		t.Logf("%s %s %.0f rpm: %d of %d found, %d false in %d", c.layout, c.wheel, c.rpm, hit, all, alarms, good)
		if float64(hit) < c.least*float64(all) || float64(alarms) > 0.005*float64(good) {
			t.Errorf("%s %s %.0f rpm seed %d: found %d of %d, %d false alarms in %d", c.layout, c.wheel, c.rpm, s.Seed, hit, all, alarms, good)
		}
		if m := r.Missing(); !slices.Contains(m, 2) || slices.ContainsFunc(m, func(c engine.Cylinder) bool { return c != 2 && c != 3 }) {
			t.Errorf("%s %s %.0f rpm: names %v: %s", c.layout, c.wheel, c.rpm, m, r.Finding.Sentence)
		}
	}
}

// score matches firings by time, leaving out the first two cycles.
func score(s simEngine, r *Result, truth roughroad.Truth) (hit, all, alarms, good int) {
	called := map[roughroad.Place]bool{}
	for _, f := range r.Firings {
		best, off := roughroad.Place{Cycle: -1}, math.Inf(1)
		for c := range s.Cycles {
			key := roughroad.Place{Cycle: c, Position: f.Position}
			if d := math.Abs(truth.Times[key] - f.Seconds); c > 1 && d < off {
				best, off = key, d
			}
		}
		if off < 40/float64(f.RPM) && !called[best] {
			called[best] = true
			switch miss := truth.Misses[best]; {
			case miss && f.Miss:
				hit, all = hit+1, all+1
			case miss:
				all++
			case f.Miss:
				alarms, good = alarms+1, good+1
			default:
				good++
			}
		}
	}
	return hit, all, alarms, good
}

func TestWithoutAReferenceOnlyThePattern(t *testing.T) {
	s := defaultSim("i4", "60-2", 850)
	s.Cycles, s.Dead = 80, map[engine.Cylinder]bool{4: true}
	r, _ := analyse(t, s, nil)
	l := r.Finding.Likelihood
	if !l.Anonymous || len(r.Dead()) > 0 || r.Finding.Verdict != finding.Misfire {
		t.Errorf("anonymous %v, names %v: %s", l.Anonymous, r.Dead(), r.Finding.Sentence)
	}
	if l.Of(".d..") <= l.Of("....")+3 {
		t.Errorf("one dead of four: %g, none: %g", l.Of(".d.."), l.Of("...."))
	}
}

func TestGapAloneLeavesTwoNames(t *testing.T) {
	s := defaultSim("i4", "60-2", 850)
	s.Cycles, s.CamAt, s.Dead = 80, nil, map[engine.Cylinder]bool{3: true}
	r, _ := analyse(t, s, []Reference{{1, s.TopAt, FromGap}})
	if len(r.Dead()) > 0 || !strings.Contains(r.Finding.Sentence, "2 or 3") {
		t.Errorf("names %v: %s", r.Dead(), r.Finding.Sentence)
	}
	l := r.Finding.Likelihood
	two, three := l.Of("...d"), l.Of(".d..") // firing order 1-3-4-2
	if math.Abs(two-three) > 1e-9 || three <= l.Of("d...")+3 {
		t.Errorf("cylinder 2 %g, 3 %g, 1 %g", two, three, l.Of("d..."))
	}
}

func TestGapAloneNamesAnOddEngine(t *testing.T) {
	for k := range 3 {
		s := defaultSim("i3", "60-2", 850)
		bad := s.Layout.At(k)
		s.Cycles, s.CamAt, s.Dead = 80, nil, map[engine.Cylinder]bool{bad: true}
		r, _ := analyse(t, s, []Reference{{1, s.TopAt, FromGap}})
		if !slices.Equal(r.Dead(), []engine.Cylinder{bad}) {
			t.Errorf("want %d: %s", bad, r.Finding.Sentence)
		}
	}
}

func TestOneCutNamesTheOthers(t *testing.T) {
	cut := defaultSim("i6", "36-1", 800)
	cut.Cycles, cut.Dead = 60, map[engine.Cylinder]bool{5: true}
	rec, _ := cut.run()
	ref, err := LearnReference(Setup{Layout: cut.Layout, Wheel: cut.wheel}, rec, 5)
	if err != nil {
		t.Fatal(err)
	}
	if want := wrapCycle(cut.TopAt + float64(cut.Layout.Angle(5)) - cut.CamAt[0]); math.Abs(math.Remainder(ref.Deg-want, 720)) > 15 {
		t.Errorf("learnt %.0f°, truly %.0f°", ref.Deg, want)
	}
	for _, bad := range []engine.Cylinder{1, 2, 6} {
		s := cut
		s.Seed, s.Dead = 9, map[engine.Cylinder]bool{bad: true}
		r, _ := analyse(t, s, []Reference{ref})
		if !slices.Equal(r.Dead(), []engine.Cylinder{bad}) {
			t.Errorf("want %d: %s", bad, r.Finding.Sentence)
		}
	}
}

// A dead companion pair leaves no half orders (methods: 6 cylinders, m = 3). On a
// toothed wheel at idle it is far beyond any spacing error and must be found.
func TestDeadCompanionPairIsFound(t *testing.T) {
	s := defaultSim("i6", "60-2", 800)
	s.Cycles, s.Dead = 80, map[engine.Cylinder]bool{1: true, 6: true}
	r, _ := analyse(t, s, s.reference())
	if !slices.Equal(sortedCylinders(r.Dead()), []engine.Cylinder{1, 6}) {
		t.Errorf("dead %v: %s %v", r.Dead(), r.Finding.Sentence, r.Finding.Quantities)
	}
}

func sortedCylinders(c []engine.Cylinder) []engine.Cylinder {
	c = slices.Clone(c)
	slices.Sort(c)
	return c
}

func TestVariableCamMovesNoName(t *testing.T) {
	s := defaultSim("i4", "60-2", 1200)
	s.Cycles, s.Dead = 120, map[engine.Cylinder]bool{2: true}
	rec, _ := s.run()
	for i := range rec.Cam { // up to 45° earlier and back
		rec.Cam[i] -= 45.0 / 6 / 1200 * (1 - math.Cos(2*math.Pi*float64(i)/120)) / 2
	}
	refs := append(s.reference(), Reference{1, s.TopAt, FromGap})
	r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: refs}, rec)
	if err != nil || !slices.Equal(r.Dead(), []engine.Cylinder{2}) {
		t.Errorf("%v %v", r, err)
	}
}

func TestUnevenFiringIsNoMisfire(t *testing.T) {
	for _, layout := range []string{"vtwin-45", "vtwin-90", "v6-odd", "v10-odd"} {
		s := defaultSim(layout, "60-2", 1000)
		s.Cycles = 80
		r, _ := analyse(t, s, s.reference())
		if r.Finding.Verdict == finding.Misfire {
			t.Errorf("%s: %s", layout, r.Finding.Sentence)
		}
	}
}

func TestWindowsCountLikeTheLaw(t *testing.T) {
	// 4 cylinders: 400 firings in 200 turns, 2000 in 1000 (methods F).
	a := &analysis{tops: make([]float64, 4)}
	for i := range 2500 {
		a.weighed = append(a.weighed, firing{miss: i >= 1000 && i < 1020})
	}
	for turns, want := range map[int]float64{200: 5, 1000: 1} {
		w, ok := a.worstWindow(turns / 2 * 4)
		if !ok || math.Abs(100*w.share()-want) > 1e-9 {
			t.Errorf("%d turns: %g %%, want %g", turns, 100*w.share(), want)
		}
	}
}

func TestWilsonAgainstPublishedValues(t *testing.T) {
	// R package binom, as published in methods C.
	for _, c := range []struct {
		x, n      int
		low, high float64
	}{{0, 30, 0, 0.11351339}, {4, 20, 0.080657663, 0.416017432}, {190, 200, 0.910421852, 0.972617354}} {
		low, high := wilson(c.x, c.n)
		if math.Abs(low-c.low) > 1e-8 || math.Abs(high-c.high) > 1e-8 {
			t.Errorf("%d of %d: %g to %g", c.x, c.n, low, high)
		}
	}
}

func TestBadInputIsRefused(t *testing.T) {
	l, _ := engine.Parse("i4")
	ramp := make([]float64, 500)
	for i := range ramp {
		ramp[i] = float64(i) * 1e-3
	}
	for name, c := range map[string]struct {
		s Setup
		r Recording
	}{
		"no engine": {Setup{}, Recording{Crank: ramp}},
		"no edges":  {Setup{Layout: l}, Recording{}},
		"backwards": {Setup{Layout: l}, Recording{Crank: []float64{3, 2, 1, 0, 5, 6, 7, 8, 9}}},
		"NaN":       {Setup{Layout: l}, Recording{Crank: append([]float64{math.NaN()}, ramp...)}},
		"labels":    {Setup{Layout: l}, Recording{Crank: ramp, Labels: []int{1}}},
		"negative":  {Setup{Layout: l}, Recording{Crank: ramp, Labels: slices.Repeat([]int{-1}, 500)}},
		"cylinder":  {Setup{Layout: l, References: []Reference{{9, 0, FromCam}}}, Recording{Crank: ramp}},
		"no wheel":  {Setup{Layout: l}, Recording{Crank: ramp}},
	} {
		if r, err := Analyse(c.s, c.r); err == nil {
			t.Errorf("%s: %s", name, r.Finding.Sentence)
		}
	}
}

func FuzzAnalyse(f *testing.F) {
	f.Add(uint64(1), "60-2", "i4", 700, 30.0, 0.1)
	f.Add(uint64(2), "4u", "i3", 200, 5.0, 0.9)
	f.Add(uint64(3), "auto", "vtwin-45", 300, 1.0, 0.5)
	f.Fuzz(func(t *testing.T, seed uint64, wheel, layout string, n int, teeth, wild float64) {
		l, err1 := engine.Parse(layout)
		w, err2 := ParseWheel(wheel)
		if err1 != nil || err2 != nil || l.N() > 6 || n < 0 || n > 3000 || len(w.Angles)+w.Positions > 120 {
			t.Skip()
		}
		r := rand.New(rand.NewPCG(seed, 9))
		var rec Recording
		at := 0.0
		for i := range n {
			step := 1e-3
			if teeth > 1 && math.Mod(float64(i), teeth) < 1 {
				step = 3e-3
			}
			at += step * math.Exp(min(math.Abs(wild), 3)*r.NormFloat64())
			rec.Crank = append(rec.Crank, at)
			if r.Float64() < 0.02 {
				rec.Cam = append(rec.Cam, at)
			}
		}
		if c, err := Cranking(Setup{Layout: l, Wheel: w}, rec); err == nil {
			if _, err := json.Marshal(c.Finding); err != nil {
				t.Error(err)
			}
		}
		res, err := Analyse(Setup{Layout: l, Wheel: w}, rec)
		if err != nil {
			return
		}
		if err := res.Finding.Likelihood.Check(l.N()); err != nil {
			t.Error(err)
		}
		if _, err := json.Marshal(res.Finding); err != nil {
			t.Error(err)
		}
	})
}

func ExampleParseReference() {
	r, _ := ParseReference("1:114", FromGap)
	fmt.Printf("cylinder %d, %g° after the %s\n", r.Cylinder, r.Deg, r.Origin)
	// Output: cylinder 1, 114° after the gap
}
