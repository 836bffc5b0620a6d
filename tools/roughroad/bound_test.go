package roughroad

import (
	"math"
	"testing"

	"halforder/engine"
)

func wheelOfMarks(n int) (marks []float64) {
	for k := range n {
		marks = append(marks, 360*float64(k)/float64(n))
	}
	return marks
}

func single(t *testing.T, rpm float64) Engine {
	t.Helper()
	l, err := engine.Parse("single")
	if err != nil {
		t.Fatal(err)
	}
	return Default(l, wheelOfMarks(60), rpm)
}

func TestBoundFallsWithEveryNoise(t *testing.T) {
	quiet := single(t, 3000)
	quiet.Jitter, quiet.Road, quiet.Belt, quiet.Cycle = 2e-6, 40, 2, 0.3
	best := quiet.Bound(0.005)
	t.Logf("bound %.4f", best)
	if !(best > 0.005 && best < 1) {
		t.Fatalf("bound %g is no share between chance and certainty", best)
	}
	for name, worse := range map[string]func(*Engine){
		"jitter":       func(e *Engine) { e.Jitter *= 30 },
		"road":         func(e *Engine) { e.Road *= 20 },
		"scatter":      func(e *Engine) { e.Cycle *= 2 },
		"little load":  func(e *Engine) { e.Load /= 10 },
		"fewer marks":  func(e *Engine) { e.Marks, e.Jitter = wheelOfMarks(4), e.Jitter*30 },
		"higher speed": func(e *Engine) { e.RPM = func(float64) float64 { return 9000 }; e.Jitter *= 10 },
	} {
		e := quiet
		worse(&e)
		if got := e.Bound(0.005); !(got < best) {
			t.Errorf("%s: bound %.6f, with less noise %.6f", name, got, best)
		}
	}
	if more, less := quiet.Bound(0.05), quiet.Bound(0.0001); !(more >= best && best >= less) {
		t.Errorf("bounds %g, %g, %g do not rise with false alarms", less, best, more)
	}
}

// In noise that drowns every miss the best detector finds what chance gives it.
func TestBoundInDrowningNoiseIsChance(t *testing.T) {
	e := single(t, 3000)
	e.Jitter = 1
	if got := e.Bound(0.02); math.Abs(got-0.02) > 0.002 {
		t.Errorf("bound %g, want the share of false alarms 0.02", got)
	}
}

// Where edges jitter and nothing else does, the estimate scatters as they do.
func TestScatterFollowsTheJitter(t *testing.T) {
	e := single(t, 3000)
	e.Jitter, e.Road, e.Belt, e.Cycle, e.Spread, e.Spacing, e.Runout = 20e-6, 0, 0, 1e-6, 0, 0, 0
	sigma := e.newTape().missScatter(0)
	e.Jitter *= 2
	if twice := e.newTape().missScatter(0); math.Abs(twice/sigma-2) > 0.05 {
		t.Errorf("scatter %g by jitter alone becomes %g when it doubles", sigma, twice)
	}
}
