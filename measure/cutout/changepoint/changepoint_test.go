package changepoint_test

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"halforder/measure/cutout/changepoint"

	"pgregory.net/rapid"
)

// published is the record of the changepoint package's own test: four stretches
// of 50 normal draws with means 0, 5, 10 and 3, seed 1 (repository
// rkillick/changepoint, tests/testthat/test-examples.R).
func published() []float64 {
	means := []float64{0, 5, 10, 3}
	out := normalsOfR(1, 200)
	for i := range out {
		out[i] += means[i/50]
	}
	return out
}

func unit(t testing.TB, channels ...[]float64) *changepoint.Series {
	t.Helper()
	sigma := make([]float64, len(channels))
	for i := range sigma {
		sigma[i] = 1
	}
	s, err := changepoint.New(channels, sigma)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Published: the first draws of R's generator for seed 1.
func TestGeneratorIsTheOneOfThePublishedData(t *testing.T) {
	got := normalsOfR(1, 200)
	for i, want := range []float64{-0.6264538107, 0.1836433242, -0.8356286124} {
		if math.Abs(got[i]-want) > 1e-9 {
			t.Errorf("draw %d: %.10f, want %.10f", i+1, got[i], want)
		}
	}
	for i, want := range map[int]float64{49: 0.881108, 199: -0.381076} { // ends of the first and last stretch, printed to six places
		if math.Abs(got[i]-want) > 1e-6 {
			t.Errorf("draw %d: %.6f, want %.6f", i+1, got[i], want)
		}
	}
}

// Published: breaks 50, 100 and 150 at 2·ln n; penalties at which the answer
// changes between 4 and 1500. Derived: residual squares by number of breaks.
func TestPublishedRecord(t *testing.T) {
	s := unit(t, published())
	if got := s.Breaks(changepoint.BIC(200, 1), 1); !reflect.DeepEqual(got, []int{50, 100, 150}) {
		t.Errorf("breaks %v, want 50, 100, 150", got)
	}
	path := s.Path(4, 1500, 1)
	want := []float64{4.332496, 4.385247, 4.684254, 559.366988, 646.962719, 1311.335695}
	got := changepoint.Thresholds(path)
	if len(got) != len(want) {
		t.Fatalf("thresholds %v, want %v", got, want)
	}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-6 {
			t.Errorf("threshold %d: %.6f, want %.6f", i, got[i], want[i])
		}
	}
	for _, step := range path {
		wantRSS := map[int]float64{0: 2687.048335, 1: 1375.712641, 2: 728.749922, 3: 169.382934, 4: 164.698681, 5: 160.313434, 7: 151.648442}[len(step.Breaks)]
		if math.Abs(step.RSS-wantRSS) > 1e-6 {
			t.Errorf("%d breaks: RSS %.6f, want %.6f", len(step.Breaks), step.RSS, wantRSS)
		}
	}
	for n, breaks := range map[int][]int{1: {50}, 2: {50, 150}, 4: {50, 100, 133, 150}, 7: {50, 96, 100, 133, 150, 159, 180}} {
		if !slices.ContainsFunc(path, func(s changepoint.Step) bool { return reflect.DeepEqual(s.Breaks, breaks) }) {
			t.Errorf("no answer with the %d breaks %v", n, breaks)
		}
	}
}

// Published: the penalties of the same repository, R/penalty_decision.R.
func TestPenalties(t *testing.T) {
	ln := math.Log(200)
	for name, pair := range map[string][2]float64{
		"BIC": {changepoint.BIC(200, 1), 2 * ln}, "MBIC": {changepoint.MBIC(200, 1), 3 * ln},
		"AIC": {changepoint.AIC(1), 4}, "Hannan-Quinn": {changepoint.HannanQuinn(200, 1), 4 * math.Log(ln)},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s: %g, want %g", name, pair[0], pair[1])
		}
	}
}

// slow is the same minimum by the plain recursion over all last breaks.
func slow(s *changepoint.Series, penalty float64, least int) float64 {
	best := make([]float64, s.Len()+1)
	best[0] = -penalty
	for end := 1; end <= s.Len(); end++ {
		best[end] = math.Inf(1)
		for start := 0; start <= end-least; start++ {
			best[end] = min(best[end], best[start]+s.RSS(start, end)+penalty)
		}
	}
	return best[s.Len()]
}

func TestPruningLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, least := rapid.IntRange(2, 40).Draw(t, "n"), rapid.IntRange(1, 5).Draw(t, "least")
		value := rapid.OneOf(rapid.Float64Range(-5, 5), rapid.Just(math.NaN()), rapid.Just(3.0))
		a, b := rapid.SliceOfN(value, n, n).Draw(t, "a"), rapid.SliceOfN(value, n, n).Draw(t, "b")
		s, err := changepoint.New([][]float64{a, b}, []float64{1, 2})
		if err != nil {
			t.Fatal(err)
		}
		penalty := rapid.Float64Range(0, 20).Draw(t, "penalty")
		breaks := s.Breaks(penalty, least)
		got, want := s.Total(breaks)+penalty*float64(len(breaks)), slow(s, penalty, least)
		if n >= 2*least && math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Fatalf("cost %.12g with %v, the plain recursion finds %.12g", got, breaks, want)
		}
		for i, from := range append([]int{0}, breaks...) {
			if to := append(breaks, n)[i]; len(breaks) > 0 && to-from < least {
				t.Fatalf("stretch %d..%d is shorter than %d", from, to, least)
			}
		}
	})
}

func TestAllChannelsVote(t *testing.T) {
	// A step of 0.8 sigma in each of sixteen channels: invisible in one.
	draws := normalsOfR(1, 16*60)
	var channels [][]float64
	for c := range 16 {
		row := draws[c*60 : (c+1)*60]
		for i := 30; i < 60; i++ {
			row[i] += 0.8
		}
		channels = append(channels, row)
	}
	if got := unit(t, channels[0]).Breaks(changepoint.MBIC(60, 1), 1); len(got) > 0 {
		t.Errorf("one channel alone finds %v, want nothing", got)
	}
	if got := unit(t, channels...).Breaks(changepoint.MBIC(60, 16), 5); !reflect.DeepEqual(got, []int{30}) {
		t.Errorf("sixteen channels find %v, want 30", got)
	}
}

func TestRefusals(t *testing.T) {
	for name, make := range map[string]func() (*changepoint.Series, error){
		"no channels":    func() (*changepoint.Series, error) { return changepoint.New(nil, nil) },
		"unequal length": func() (*changepoint.Series, error) { return changepoint.New([][]float64{{1}, {1, 2}}, []float64{1, 1}) },
		"no noise":       func() (*changepoint.Series, error) { return changepoint.New([][]float64{{1}}, []float64{0}) },
		"infinite":       func() (*changepoint.Series, error) { return changepoint.New([][]float64{{math.Inf(1)}}, []float64{1}) },
	} {
		if _, err := make(); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

func BenchmarkBreaks(b *testing.B) {
	s := unit(b, normalsOfR(2, 3000))
	for b.Loop() {
		s.Breaks(20, 5)
	}
}
