package crank

import (
	"math"
	"sort"
	"testing"
	"time"

	"halforder/engine"
)

func TestStreamCountsLikeTheWhole(t *testing.T) {
	s := defaultSim("i4", "60-2", 1500)
	s.Cycles = 1300
	s.MissP = map[engine.Cylinder]float64{4: 0.08}
	rec, _ := s.run()
	setup := Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}
	whole, err := Analyse(setup, rec)
	if err != nil {
		t.Fatal(err)
	}
	st := NewStream(setup)
	slowest := time.Duration(0)
	for i := 0; i < len(rec.Crank); i += 15000 {
		j := min(i+15000, len(rec.Crank))
		a := sort.SearchFloat64s(rec.Cam, rec.Crank[i])
		b := sort.SearchFloat64s(rec.Cam, rec.Crank[j-1])
		if err := st.Write(rec.Crank[i:j], rec.Cam[a:b]); err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		r, err := st.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		slowest = max(slowest, time.Since(start))
		if m := r.Missing(); i > 40000 && (len(m) != 1 || m[0] != 4) {
			t.Fatalf("after %d edges: missing %v: %s", j, m, r.Finding.Sentence)
		}
	}
	got, want := st.Total(), len(whole.Misses)
	if math.Abs(float64(got.Missed-want)) > 0.03*float64(want) || got.ByPosition[s.Layout.Position(4)].Missed < got.Missed*98/100 {
		t.Errorf("stream counted %+v, the whole has %d misses", got, want)
	}
	if len(st.rec.Crank) > 2*windowTurns*58 {
		t.Errorf("the stream remembers %d edges", len(st.rec.Crank))
	}
	t.Logf("slowest snapshot %v", slowest)
}

func TestStreamRefusesDisorder(t *testing.T) {
	st := NewStream(Setup{})
	if err := st.Write([]float64{1, 2, 3}, nil); err != nil {
		t.Fatal(err)
	}
	for _, bad := range [][]float64{{3}, {2.5}, {4, 4}, {math.NaN()}} {
		if st.Write(bad, nil) == nil {
			t.Errorf("%v was taken after 3", bad)
		}
	}
}

// Edges lost on the way, a few or seconds of them, accuse nobody new: whoever
// misses is named as before, and no cycle is made of both sides of a gap.
func TestStreamSurvivesGaps(t *testing.T) {
	s := defaultSim("i4", "60-2", 1500)
	s.Cycles = 400
	s.MissP = map[engine.Cylinder]float64{4: 0.15}
	rec, _ := s.run()
	setup := Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}
	whole, err := Analyse(setup, rec)
	if err != nil {
		t.Fatal(err)
	}
	for _, gap := range []int{1, 7, 58, 500, 3000} { // edges
		st := NewStream(setup)
		for from := 0; from < len(rec.Crank); from += 9000 {
			to := min(from+9000, len(rec.Crank))
			a := sort.SearchFloat64s(rec.Cam, rec.Crank[min(from+gap, to-1)])
			b := sort.SearchFloat64s(rec.Cam, rec.Crank[to-1])
			if err := st.Write(rec.Crank[min(from+gap, to):to], rec.Cam[a:b]); err != nil {
				t.Fatal(err)
			}
		}
		r, err := st.Snapshot()
		if err != nil {
			t.Fatalf("%d edges lost at a time: %v", gap, err)
		}
		if m := r.Missing(); len(m) != 1 || m[0] != 4 || len(r.Dead()) != 0 {
			t.Errorf("%d edges lost at a time: missing %v, dead %v: %s", gap, m, r.Dead(), r.Finding.Sentence)
		}
		of := func(r *Result) float64 { return float64(len(r.Misses)) / float64(len(r.Firings)) }
		if math.Abs(of(r)-of(whole)) > 0.01 {
			t.Errorf("%d edges lost at a time: %.1f %% missed, whole %.1f %%", gap, 100*of(r), 100*of(whole))
		}
	}
}
