package crank

import (
	"math"
	"math/rand/v2"
	"testing"

	"halforder/engine"
)

// throughCapacitor is a first-order high-pass: what a coupled input leaves of a
// signal.
func throughCapacitor(x []float32, rate, hertz float64) []float32 {
	out := make([]float32, len(x))
	keep, held, last := 1/(1+2*math.Pi*hertz/rate), 0.0, float64(x[0])
	for i, v := range x {
		held = keep * (held + float64(v) - last)
		last = float64(v)
		out[i] = float32(held)
	}
	return out
}

func TestStarterCurrentThroughACapacitor(t *testing.T) {
	l, _ := engine.Parse("i4")
	rec, _ := crankedEngine(t, "i4", "ring-leak@2:0.3", toothed, 7)
	refs := []Reference{{l.At(0), -300, FromCam}}
	for _, hertz := range []float64{0.5, 1, 2, 3} {
		for _, sign := range []float32{1, -1} {
			still := make([]float32, int(rec.StarterAmps.Hz)) // a second before the starter turns
			amps := throughCapacitor(append(still, rec.StarterAmps.X...), rec.StarterAmps.Hz, hertz)
			for i := range amps {
				amps[i] *= sign
			}
			r, err := StarterCompression(Setup{Layout: l, References: refs}, StarterCurrent{rec.StarterAmps.Hz, amps, column(rec.Cam, func(s float64) float64 { return s + 1 })})
			if err != nil {
				t.Errorf("%g Hz, sign %g: %v", hertz, sign, err)
				continue
			}
			if named := append(r.Lost, r.Weak...); len(named) != 1 || named[0] != 2 {
				t.Errorf("%g Hz, sign %g: names %v, want 2: %s %.2f", hertz, sign, named, r.Finding.Sentence, r.Relative)
			}
		}
	}
}

func TestMarksAtOddsNameNobody(t *testing.T) {
	l, _ := engine.Parse("v8-18436572")
	rec, _ := crankedEngine(t, "v8-18436572", "ring-leak@2:0.3", toothed, 7)
	var marks []float64
	for s := 0.0; s < 5; s += 0.0317 { // no cam passes thirty times a second
		marks = append(marks, s)
	}
	r, err := StarterCompression(Setup{Layout: l, References: []Reference{{1, -300, FromCam}}},
		StarterCurrent{rec.StarterAmps.Hz, rec.StarterAmps.X, marks})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Lost)+len(r.Weak) > 0 {
		t.Errorf("names %v and %v by marks that agree on nothing", r.Lost, r.Weak)
	}
}

// A cam at cranking speed passes a Hall sensor twice a second, after a time of
// rest in which only noise is recorded.
func TestSlowSquareCamGivesItsRisingEdges(t *testing.T) {
	const rest, period, wide = 1.1, 0.6, 0.08
	for _, rate := range []float64{1000, 5000, 44100} {
		for _, hertz := range []float64{0, 2, 6} {
			dice := rand.New(rand.NewPCG(5, 8))
			x := make([]float32, int(6*rate))
			for i := range x {
				s := float64(i) / rate
				if s > rest && math.Mod(s-rest, period) < wide {
					x[i] = 5
				}
				x[i] += float32(0.02 * dice.NormFloat64())
			}
			if hertz > 0 {
				x = throughCapacitor(x, rate, hertz)
			}
			tr, err := NewTrace(rate)
			if err != nil {
				t.Fatal(err)
			}
			tr.Push(x)
			at, falling, err := tr.Edges()
			if err != nil || falling || len(at) < 6 {
				t.Errorf("%g samples a second through %g Hz: %d edges, falling %v, error %v", rate, hertz, len(at), falling, err)
				continue
			}
			for _, s := range at[1:] { // the first teaches the swing
				if off := math.Remainder(s-rest, period); math.Abs(off) > 2/rate {
					t.Errorf("%g samples a second through %g Hz: an edge at %.4f s is %.4f s off", rate, hertz, s, off)
				}
			}
		}
	}
}
