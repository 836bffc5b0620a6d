package crank

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func TestParseWheelReadsWhatItWrites(t *testing.T) {
	for _, text := range []string{"60-2", "36-1", "36-2-1", "24", "4u", "4@0-70-180-250", "auto", "60-2-2-2"} {
		w, err := ParseWheel(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if got := w.settle().String(); got != text {
			t.Errorf("%s: written as %s", text, got)
		}
	}
}

func TestParseWheelRefuses(t *testing.T) {
	for _, text := range []string{"60-", "-2", "60-40", "13u", "0u", "u", "4@0-70-180", "4@0-70-180-360", "3@5-70-90", "4@0-70-70-90", "x", "36-2-1/20-20", "1000"} {
		if w, err := ParseWheel(text); err == nil {
			t.Errorf("%q was read as %v", text, w)
		} else if !strings.Contains(err.Error(), "60-2") {
			t.Errorf("%q: no example in %v", text, err)
		}
	}
}

func TestSettleSpacesMarks(t *testing.T) {
	w, _ := ParseWheel("36-2-1/17-16")
	w = w.settle()
	if len(w.Angles) != 33 || w.Angles[15] != 150 || w.Angles[16] != 170 || w.Angles[32] != 330 {
		t.Errorf("%d marks: %v", len(w.Angles), w.Angles)
	}
	w, _ = ParseWheel("60-2")
	if a := w.settle().Angles; len(a) != 58 || a[57] != 342 {
		t.Errorf("60-2: %v", a)
	}
}

// edgesOf turns a wheel at a speed with a gentle swing and returns edges and
// the number of the mark each belongs to.
func edgesOf(w Wheel, turns int, rpm float64) (times []float64, marks []int) {
	a := w.settle().Angles
	for n := range turns * len(a) {
		angle := 360*float64(n/len(a)) + a[n%len(a)]
		times = append(times, angle/(6*rpm)*1.0+0.0004*math.Sin(angle*math.Pi/180))
		marks = append(marks, n)
	}
	return times, marks
}

func TestDecodeSurvivesSpuriousAndMissedMarks(t *testing.T) {
	for _, spec := range []string{"60-2", "36-1", "36-2-1/17-16", "12-1"} {
		w, _ := ParseWheel(spec)
		w = w.settle()
		times, _ := edgesOf(w, 60, 900)
		r := rand.New(rand.NewPCG(4, 4))
		var spoilt []float64
		for i, at := range times {
			if r.Float64() < 0.01 && i > 3 {
				continue // missed
			}
			spoilt = append(spoilt, at)
			if i+1 < len(times) && (i%len(w.Angles) == len(w.Angles)-1 || r.Float64() < 0.01) {
				spoilt = append(spoilt, at+(times[i+1]-at)*0.45*r.Float64()) // in the gap, and elsewhere
			}
		}
		slices.Sort(spoilt)
		d := follow(w, spoilt)
		if len(d.runs) != 1 {
			t.Errorf("%s: lost the wheel %d times", spec, d.lost)
			continue
		}
		run := d.runs[0]
		first := slices.Index(times, run.t[0])
		wrong := 0
		for i, at := range run.t {
			if first+i < len(times) && math.Abs(at-times[first+i]) > 0.3*60/900/float64(len(w.Angles)) {
				wrong++
			}
		}
		if first < 0 || first%len(w.Angles) != run.first || wrong > len(times)/50 {
			t.Errorf("%s: begins at %d as mark %d, %d of %d marks displaced", spec, first, run.first, wrong, len(run.t))
		}
	}
}

func TestRecogniseFindsTheWheel(t *testing.T) {
	for spec, given := range map[string]string{"60-2": "auto", "36-1": "auto", "36-2-1/17-16": "36-2-1", "60-2-2-2/18-18-18": "60-2-2-2"} {
		w, err := ParseWheel(spec)
		if err != nil {
			t.Fatal(err)
		}
		times, _ := edgesOf(w, 30, 900)
		ask, _ := ParseWheel(given)
		got, err := recognise(ask, times, 0)
		if err != nil {
			t.Errorf("%s: %v", spec, err)
			continue
		}
		if len(got.Angles) != w.Marks() || got.Positions != w.Positions {
			t.Errorf("%s given as %s: recognised as %s with %d marks", spec, given, got, len(got.Angles))
		}
	}
}

func TestWrongWheelSaysWhatWasSeen(t *testing.T) {
	times, _ := edgesOf(mustWheel("60-2"), 40, 900)
	for _, wrong := range []string{"36-1", "24", "36-2-1", "4u"} {
		_, err := buildClock(mustWheel(wrong), Recording{Crank: times})
		if err == nil || !strings.Contains(err.Error(), "58 teeth and a gap of 3: is it 60-2?") {
			t.Errorf("%s against 60-2: %v", wrong, err)
		}
	}
	uneven, _ := edgesOf(mustWheel("4@0-70-180-250"), 60, 900)
	if _, err := buildClock(mustWheel("60-2"), Recording{Crank: uneven}); err == nil || !strings.Contains(err.Error(), "uneven") {
		t.Errorf("60-2 against four marks: %v", err)
	}
}

func mustWheel(text string) Wheel {
	w, err := ParseWheel(text)
	if err != nil {
		panic(err)
	}
	return w
}

func TestLearnUnevenFindsAngles(t *testing.T) {
	want := []float64{0, 56, 127, 186, 238, 301}
	w := Wheel{Positions: 6, Angles: want}
	times, _ := edgesOf(w, 60, 900)
	got, err := learnUneven(6, times[2:])
	if err != nil {
		t.Fatal(err)
	}
	for k, a := range got.Angles {
		if d := math.Abs(a - (want[(k+2)%6] - want[2] + 360*float64((k+2)/6))); d > 4.4 { // the swing of the test is ±2.2°
			t.Errorf("mark %d at %.1f", k, a)
		}
	}
}

func ExampleParseWheel() {
	w, _ := ParseWheel("36-2-1")
	fmt.Println(w.Marks(), "marks, gaps", w.Gaps)
	// Output: 33 marks, gaps [2 1]
}

func TestWheelWithTeethMissedNowAndThen(t *testing.T) {
	for seed := range uint64(4) {
		r := rand.New(rand.NewPCG(seed, 12))
		s := defaultSim("i4", "24", 900)
		s.Cycles, s.Seed = 120, seed
		rec, _ := s.run()
		rec.Crank = slices.DeleteFunc(rec.Crank, func(float64) bool { return r.Float64() < 0.003 })
		w, err := recognise(Wheel{}, rec.Crank, marksByCam(rec))
		if err != nil || w.String() != "24" {
			t.Errorf("seed %d: taken for %s: %v", seed, w, err)
		}
	}
}

func TestWheelThatTheCamContradicts(t *testing.T) {
	s := defaultSim("i4", "24", 900)
	s.Cycles = 40
	rec, _ := s.run()
	for _, spec := range []string{"60-2", "20", "5u"} {
		w, err := ParseWheel(spec)
		if err != nil {
			t.Fatal(err)
		}
		_, err = buildClock(w, rec)
		if err == nil || !strings.Contains(err.Error(), "is it 24?") {
			t.Errorf("%s: %v, want a hint at 24", spec, err)
		}
	}
}

func TestTimesInAnotherUnitAreRefused(t *testing.T) {
	s := defaultSim("i4", "60-2", 900)
	s.Cycles = 20
	rec, _ := s.run()
	for i := range rec.Crank {
		rec.Crank[i] *= 1e6
	}
	if _, err := Analyse(Setup{Layout: s.Layout}, Recording{Crank: rec.Crank}); err == nil || !strings.Contains(err.Error(), "another unit") {
		t.Errorf("microseconds taken for seconds: %v", err)
	}
}

func TestGapsSeenInTwoWidthsAreOne(t *testing.T) {
	for _, c := range []struct{ turn, want []stretch }{
		{[]stretch{{58, 2}, {58, 3}}, []stretch{{58, 2}}},
		{[]stretch{{17, 3}, {16, 1}, {17, 2}, {16, 1}}, []stretch{{17, 2}, {16, 1}}},
		{[]stretch{{17, 2}, {16, 1}}, []stretch{{17, 2}, {16, 1}}},
		{[]stretch{{20, 1}, {20, 3}}, []stretch{{20, 1}, {20, 3}}},
	} {
		if got := sameGaps(c.turn); !slices.Equal(got, c.want) {
			t.Errorf("%v: taken for %v, want %v", c.turn, got, c.want)
		}
	}
}
