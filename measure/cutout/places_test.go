package cutout

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

const usualShape = 11 // of the tests: which family of answers

// hunted is a speed at ten a second whose noise has the memory of a flywheel of
// 0.65 s, with the answers of cuts of the given drop in it; a fall counts up.
func hunted(seed uint64, seconds, drop float64, cuts ...Cut) *model {
	rng := rand.New(rand.NewPCG(seed, 2))
	g := grid{step: 0.1, y: make([]float64, int(seconds/0.1))}
	var noise float64
	for k := range g.y {
		noise = math.Exp(-g.step/usualFlywheel)*noise + 4*rng.NormFloat64()
		g.y[k] = noise
		for _, c := range cuts {
			s := families[usualShape][0]
			g.y[k] += drop * (s.at(g.at(k)-c.Start) - s.at(g.at(k)-c.End))
		}
	}
	return newModel(g)
}

// Six cuts of 60 rpm: all are found to the half second, and next to nothing where
// none was made.
func TestPulsesFindCuts(t *testing.T) {
	var cuts []Cut
	for at := 10.0; at < 90; at += 14 {
		cuts = append(cuts, Cut{Start: at, End: at + 4})
	}
	inNoise := 0
	for seed := range uint64(10) {
		found, _ := hunted(seed, 100, 60, cuts...).pulses(families[usualShape][0], nil, 0, 20)
		for _, made := range cuts {
			if !slices.ContainsFunc(found, func(c Cut) bool {
				return math.Abs(c.Start-made.Start) < 0.5 && math.Abs(c.End-made.End) < 0.5
			}) {
				t.Errorf("seed %d: the cut made at %.1f–%.1f s is not found", seed, made.Start, made.End)
			}
		}
		inNoise += max(len(found)-len(cuts), 0)
		none, _ := hunted(seed, 100, 0).pulses(families[usualShape][0], nil, 0, 20)
		inNoise += len(none)
	}
	if inNoise > 3 {
		t.Errorf("%d cuts found in the noise of 20 recordings", inNoise)
	}
}

// A cut whose place is known to some seconds: the amplitude that explains most is
// the one made, and without one nothing is likelier than nothing.
func TestPlacesAreSummedOver(t *testing.T) {
	e := expected{from: 15, to: 25, last: 35, centre: 20, sigma: 2}
	for _, drop := range []float64{0, 30, 60} {
		var mean float64
		for seed := range uint64(10) {
			m := hunted(seed, 50, drop, Cut{Start: 21, End: 24.6})
			p := placing{model: m, shape: families[usualShape][0], ratio: 1, most: 150, length: 4, residual: m.y}
			s, best := p.place(m.scan(p.shape, m.y), e)
			if here := s.at(0); math.Abs(here) > 1e-9 {
				t.Fatalf("seed %d: nothing is %g times as likely as nothing", seed, math.Exp(here))
			}
			top, at := 0.0, 0.0
			for a := 0.0; a < 150; a++ {
				if v := s.at(a); v > top {
					top, at = v, a
				}
			}
			mean += at / 10
			if drop == 60 && (math.Abs(best.Start-21) > 0.5 || math.Abs(best.End-24.6) > 0.5) {
				t.Errorf("seed %d: the cut is put at %.1f–%.1f s, it was 21–24.6 s", seed, best.Start, best.End)
			}
		}
		if math.Abs(mean-drop) > 8 {
			t.Errorf("a drop of %.0f rpm is taken for %.0f on average", drop, mean)
		}
	}
}

// The next cut cannot lie before the recording: a first cut that nobody saw has
// little room before one seen at its beginning, and all of it before a late one.
func TestUnseenCutNeedsRoom(t *testing.T) {
	p := placing{model: hunted(1, 100, 0), length: 4}
	share := func(seen float64) float64 {
		cuts := []Cut{{}, {Start: seen, End: seen + 4, found: 1}}
		e := p.silent(cuts, 0, 14)
		return e.clip()
	}
	if early, late := share(5), share(25); early > 0.1 || late < 0.9 {
		t.Errorf("room for a cut 14 s before one seen at 5 s: %.2f, at 25 s: %.2f; want next to none and all", early, late)
	}
}

// Cuts found at the same moment have no rhythm; the search for another still ends.
func TestUnseenCutWithoutARhythm(t *testing.T) {
	p := placing{model: hunted(1, 100, 0), length: 4}
	for _, slope := range []float64{0, 1e-15, -3} {
		e := p.silent([]Cut{{}, {Start: 50, End: 54, found: 1}}, 0, slope)
		if share := e.clip(); !(share >= 0 && share <= 1) {
			t.Errorf("from cut to cut %g s: a share of %g of the places is free", slope, share)
		}
	}
}

// A record full of holes has correlations that no process has; what predicts from
// them must not be worse than nothing.
func TestAutoregressionOfARecordFullOfHoles(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		m := hunted(seed, 120, 60, Cut{Start: 30, End: 34}, Cut{Start: 60, End: 65})
		x := append([]float64(nil), m.y...)
		for k := 0; k < len(x); k += 6 + rng.IntN(6) {
			for j := range 4 {
				if k+j < len(x) {
					x[k+j] = math.NaN()
				}
			}
		}
		plain := robustSigma(m.y)
		m.usePhi(autoregression(x, 25))
		if got := robustSigma(m.white); got > plain {
			t.Errorf("seed %d: the prediction leaves %.1f rpm, no prediction %.1f", seed, got, plain)
		}
	}
}

// What an unseen cut explains counts at most as much as a change of load costs; which
// amplitudes are likelier stays.
func TestLimitOfAnUnseenCut(t *testing.T) {
	s := spread{log: []float64{0, 24.5, 20}}
	s.limit(loadPrice)
	if s.best() != loadPrice || s.log[1]-s.log[2] != 4.5 {
		t.Errorf("limited to %v", s.log)
	}
	low := spread{log: []float64{0, 2.5}}
	if low.limit(loadPrice); low.best() != 2.5 {
		t.Errorf("what is below the limit became %v", low.log)
	}
}
