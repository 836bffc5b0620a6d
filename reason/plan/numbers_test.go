package plan_test

import (
	"math"
	"strings"
	"testing"

	"halforder/reason/plan"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.10g, want %.10g ± %g", what, got, want, tolerance)
	}
}

// Published: values of R's binom package as kept in the tests of a Python
// statistics library (results_proportion.py), 95 %; the last row computed.
func TestBinomialIntervals(t *testing.T) {
	for _, x := range []struct {
		x, n           int
		wl, wh, cl, ch float64
	}{
		{0, 30, 0, 0.11351339, 0, 0.11570331},
		{1, 30, 0.00590859, 0.16670391, 0.00084357, 0.17216946},
		{4, 20, 0.080657663, 0.416017432, 0.057333997, 0.436614003},
		{18, 20, 0.698966355, 0.972133519, 0.683017286, 0.987651473},
		{4, 200, 0.007804426, 0.050287087, 0.005475566, 0.050413609},
		{190, 200, 0.910421852, 0.972617354, 0.909972462, 0.975765835},
		{19, 38, 0.348499284, 0.651500716, 0.333789, 0.666211},
	} {
		w, err := plan.Wilson(x.x, x.n, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		c, err := plan.ClopperPearson(x.x, x.n, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "Wilson low", w.Low, x.wl, 1e-8)
		near(t, "Wilson high", w.High, x.wh, 1e-8)
		near(t, "Clopper-Pearson low", c.Low, x.cl, 1e-6)
		near(t, "Clopper-Pearson high", c.High, x.ch, 1e-6)
	}
	if _, err := plan.Wilson(3, 2, 0.95); err == nil {
		t.Error("3 of 2 was accepted")
	}
}

// Computed from the formula, 95 %: 299 and 149 clean trials; rule of three.
func TestCleanTrials(t *testing.T) {
	for p, want := range map[float64]int{0.01: 299, 0.02: 149} {
		if n, err := plan.CleanTrials(p, 0.95); err != nil || n != want {
			t.Errorf("rate %g: %d trials (%v), want %d", p, n, err, want)
		}
	}
	s, err := plan.CleanTime(300, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "once in 5 min: seconds to drive", s, 900, 2) // trade rule: 15 min
}

// Published: NIST handbook 6.2.6, at n = 24 acceptance number 0 and rejection
// number 3. The lines and mean trials are computed for p 0.01 and 0.10, risks
// 0.05 and 0.10; that these are NIST's parameters is from memory.
func TestSequentialPlan(t *testing.T) {
	s := plan.Sequential{Good: 0.01, Bad: 0.10, False: 0.05, Missed: 0.10}
	if a, r := s.Numbers(24); a != 0 || r != 3 {
		t.Errorf("n = 24: accept %d reject %d, want 0 and 3", a, r)
	}
	if a, _ := s.Numbers(23); a >= 0 {
		t.Errorf("n = 23 accepts already with %d", a)
	}
	good, bad := s.Mean()
	near(t, "mean trials of a good one", good, 27.96, 0.01)
	near(t, "mean trials of a bad one", bad, 16.45, 0.01)
	for _, x := range []struct {
		hits, n int
		want    plan.Decision
	}{{0, 10, plan.GoOn}, {0, 24, plan.Accept}, {3, 24, plan.Reject}, {2, 5, plan.Reject}, {1, 24, plan.GoOn}} {
		if got, err := s.Decide(x.hits, x.n); err != nil || got != x.want {
			t.Errorf("%d of %d: %s (%v), want %s", x.hits, x.n, got, err, x.want)
		}
	}
}

func nistLives() []plan.Life {
	lives := []plan.Life{{Age: 500, Count: 10}}
	for _, a := range []float64{54, 187, 216, 240, 244, 335, 361, 373, 375, 386} {
		lives = append(lives, plan.Life{Age: a, Failed: true})
	}
	return lives
}

// Published: NIST handbook 8.4.1.3. The stored copy of the page has lost the
// minus sign of the log-likelihood.
func TestWeibullOfNIST(t *testing.T) {
	w, err := plan.FitWeibull(nistLives())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", w.Scale, 606.5280, 1e-3)
	near(t, "shape", w.Shape, 1.7208, 1e-4)
	mean, sd := w.Mean()
	near(t, "mean", mean, 540.737, 2e-3)
	near(t, "sd", sd, 323.806, 2e-3)
	near(t, "log-likelihood", w.LogLikelihood(nistLives()), -75.135, 1e-3)
	near(t, "survival to 500", w.Survival(500), 0.488102, 1e-5)
	near(t, "100 more at 500", w.SurvivalFrom(500, 100), 0.767726, 1e-5)
	near(t, "B10", w.Quantile(0.1), 164.0224, 1e-2)
}

// A standard textbook set of six, complete. Computed: 1.9327 and 73.5261.
func TestWeibullOfSix(t *testing.T) {
	var lives []plan.Life
	for _, a := range []float64{16, 34, 53, 75, 93, 120} {
		lives = append(lives, plan.Life{Age: a, Failed: true})
	}
	w, err := plan.FitWeibull(lives)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "shape", w.Shape, 1.9327, 1e-4)
	near(t, "scale", w.Scale, 73.5261, 1e-3)
	if _, err := plan.FitWeibull(lives[:1]); err == nil || !strings.Contains(err.Error(), "two") {
		t.Errorf("one failure gives %v", err)
	}
	if _, err := plan.FitWeibull([]plan.Life{{Age: 100}}); err == nil {
		t.Error("no failure at all was fitted")
	}
}

// Published inputs (shape 2.5, scale 1000, preventive 1, failure 5); the optimum
// is computed, the published one being cut off in the copy seen.
func TestAgeReplacement(t *testing.T) {
	r, err := plan.Weibull{Scale: 1000, Shape: 2.5}.ReplaceAt(1, 5)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "age", r.Age, 493.0470, 1e-3)
	near(t, "rate", r.Rate, 0.00346204, 1e-8)
	near(t, "run to failure", r.RunRate, 0.00563530, 1e-8)
	if r, err := (plan.Weibull{Scale: 1000, Shape: 0.9}).ReplaceAt(1, 5); err != nil || !math.IsInf(r.Age, 1) {
		t.Errorf("a part that does not wear: %v %v, want run to failure", r, err)
	}
}

// The trade's two examples (guesses): the set of four easy coils pays only if
// one of the other three fails with about 0.7; that of three under a plenum from
// about 0.23.
func TestOneOrSet(t *testing.T) {
	easy, err := plan.OneOrSet(plan.SetCase{Kind: "coil", Others: 3, Price: 60, Access: 40, Comeback: 150, Chance: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "break-even, easy", 3*easy.BreakEven, 0.72, 0.005)
	if easy.All {
		t.Error("easy access and a chance of 0.3 for any: the set was sold")
	}
	hard, err := plan.OneOrSet(plan.SetCase{Kind: "coil", Others: 2, Price: 70, Access: 350, Comeback: 200, Chance: 0.15})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "break-even, plenum", 2*hard.BreakEven, 0.226, 0.005)
	if !hard.All {
		t.Error("under a plenum with a chance of 0.3 for any: only one was sold")
	}
	aged, err := plan.OneOrSet(plan.SetCase{Kind: "coil", Others: 3, Age: 500, Horizon: 100, Life: plan.Weibull{Scale: 606.5280, Shape: 1.7208}, Price: 60, Comeback: 200})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "chance from the fitted life", aged.PerPart, 1-0.767726, 1e-5)
	for _, want := range []string{"now against", "%"} {
		if !strings.Contains(aged.Sentence, want) {
			t.Errorf("%q does not say %q", aged.Sentence, want)
		}
	}
	if _, err := plan.OneOrSet(plan.SetCase{Others: 2}); err == nil {
		t.Error("a set that costs nothing was judged")
	}
}

// The rule of three, published: no event in three times its mean interval gives
// 1 − e⁻³ = 0.9502. Time and confidence are each other's inverse.
func TestCleanConfidence(t *testing.T) {
	p, err := plan.CleanConfidence(300, 900)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "confidence after three intervals", p, 0.9502, 1e-4)
	for _, want := range []float64{0.5, 0.9, 0.99} {
		seconds, err := plan.CleanTime(40, want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := plan.CleanConfidence(40, seconds)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "there and back", got, want, 1e-12)
	}
	for _, bad := range [][2]float64{{0, 10}, {-1, 10}, {10, -1}, {10, math.NaN()}, {math.Inf(1), 1}} {
		if _, err := plan.CleanConfidence(bad[0], bad[1]); err == nil {
			t.Errorf("a miss every %g s watched for %g s was accepted", bad[0], bad[1])
		}
	}
}

// The trade's guess: plugs go along once they have done about 60 % of their
// interval. By hand, four plugs at 15 with 6 min each (14 at 140 an hour) are
// worth 116; a visit of their own beyond that is 19 min, 44: from 1 − 44/116 =
// 0.62 of the interval.
func TestRenewDue(t *testing.T) {
	c := plan.DueCase{Kind: "plug", Parts: 4, Age: 45000, Interval: 60000, Price: 15, Labour: 14, Visit: 44}
	a, err := plan.RenewDue(c)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "break-even", a.BreakEven/c.Interval, 0.62, 0.005)
	near(t, "use thrown away at three quarters", a.Wasted, 29, 1e-9)
	if !a.Now {
		t.Error("at three quarters of the interval the plugs were left")
	}
	c.Age = 30000
	if a, err := plan.RenewDue(c); err != nil || a.Now {
		t.Errorf("at half the interval: %+v %v, want them left", a, err)
	}
	c.Age = 70000
	if a, err := plan.RenewDue(c); err != nil || !a.Now || a.Wasted != 0 {
		t.Errorf("overdue: %+v %v, want them renewed and nothing wasted", a, err)
	}
	for _, bad := range []plan.DueCase{{}, {Parts: 1, Price: 1}, {Parts: 1, Interval: 1}, {Parts: 1, Interval: 1, Price: math.NaN()}} {
		if _, err := plan.RenewDue(bad); err == nil {
			t.Errorf("%+v was judged", bad)
		}
	}
}
