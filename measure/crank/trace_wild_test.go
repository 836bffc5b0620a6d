package crank

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"halforder/engine"
	"halforder/tools/roughroad"
)

// wildTrace is a random sensor on an engine with one dead cylinder: any kind,
// rate, noise, polarity, coupling and drift, pulses in up to a third of the
// gaps and teeth missed, and a quiet beginning.
type wildTrace struct {
	name    string
	rate    float64
	samples []float32
	cam     []float64
	sim     simEngine
	dead    engine.Cylinder
}

func newWildTrace(seed uint64) wildTrace {
	r := rand.New(rand.NewPCG(seed, 31))
	kind := []string{"hall", "inductive"}[r.IntN(2)]
	w := wildTrace{rate: math.Exp(math.Log(10e3) + r.Float64()*math.Log(100))}
	rpm := 700 + 2000*r.Float64()
	if w.rate < 20e3 {
		rpm = 700 + 500*r.Float64()
	}
	noise, sign, coupled := 0.12*r.Float64(), 1-2*float64(r.IntN(2)), r.IntN(2) == 0
	w.sim, w.dead = defaultSim("i4", "60-2", rpm), engine.Cylinder(1+r.IntN(4))
	w.sim.Cycles, w.sim.Seed, w.sim.Dead = 40, seed, map[engine.Cylinder]bool{w.dead: true}
	rec, _ := w.sim.run()
	const quiet = 0.01 // seconds before the engine turns
	pulses, missed := 0.3*r.Float64(), 0.003*r.Float64()
	var edges []float64
	for i, e := range rec.Crank {
		if r.Float64() > missed {
			edges = append(edges, e+quiet)
		}
		if i%58 == 57 && i+1 < len(rec.Crank) && r.Float64() < pulses {
			edges = append(edges, e+quiet+(0.2+0.6*r.Float64())*(rec.Crank[i+1]-e))
		}
	}
	for _, e := range rec.Cam {
		w.cam = append(w.cam, e+quiet)
	}
	w.samples = sensorTrace(edges, kind, w.rate, noise, sign, coupled, seed)
	drift, phase := 0.6*r.Float64(), 6*r.Float64()
	for i := range w.samples {
		w.samples[i] += float32(drift * math.Sin(2*math.Pi*0.7*float64(i)/w.rate+phase))
	}
	w.name = fmt.Sprintf("seed %d: %s at %.0f Hz, %.0f rpm, noise %.2f, sign %+.0f, coupled %v, pulses in %.0f %% of gaps, %.2f %% of teeth missed",
		seed, kind, w.rate, rpm, noise, sign, coupled, 100*pulses, 100*missed)
	return w
}

func TestTraceOfAnyKindNamesTheDeadCylinder(t *testing.T) {
	unsure := 0
	const tries = 14
	for seed := range uint64(tries) {
		w := newWildTrace(seed)
		tr, err := NewTrace(w.rate)
		if err != nil {
			t.Fatal(err)
		}
		tr.Push(w.samples)
		edges, _, err := tr.Edges()
		if err != nil {
			t.Errorf("%s: %v", w.name, err)
			continue
		}
		for _, wheel := range []Wheel{w.sim.wheel, {}} {
			r, err := Analyse(Setup{Layout: w.sim.Layout, Wheel: wheel, References: w.sim.reference()}, Recording{Crank: edges, Cam: w.cam})
			switch {
			case err != nil:
				t.Errorf("%s, wheel %s: %v", w.name, wheel, err)
			case len(r.Dead()) == 0:
				unsure++
				t.Logf("%s, wheel %s: %s", w.name, wheel, r.Finding.Sentence)
			case !slices.Equal(r.Dead(), []engine.Cylinder{w.dead}):
				t.Errorf("%s, wheel %s: dead %v, want %d: %s", w.name, wheel, r.Dead(), w.dead, r.Finding.Sentence)
			}
		}
	}
	if unsure > tries/7 {
		t.Errorf("unsure of %d in %d", unsure, 2*tries)
	}
}

// A wheel that does not fit is told in one line with what was seen, and pulses
// and missed teeth do not make it look like another.
func TestSpoiltWheelIsRecognised(t *testing.T) {
	for _, spoilt := range []struct{ missed, pulses float64 }{{0.002, 0.2}, {0.01, 0.3}, {0.02, 0.5}} {
		for seed := range uint64(4) {
			for _, spec := range []string{"60-2", "36-1", "36-2-1/17-16", "36-2-1/20-13", "36-2-2-2/12-15-3", "24-1"} {
				w := mustWheel(spec).settle()
				s := defaultSim("i4", spec, 1200)
				s.Cycles, s.Seed = 30, seed
				edges := spoiltEdges(s, w, spoilt.missed, spoilt.pulses)
				for _, given := range []Wheel{{}, mustWheel(w.String())} {
					c, err := buildClock(given, Recording{Crank: edges})
					if err != nil || !sameWheel(c.wheel, w) || len(c.parts) == 0 {
						t.Errorf("seed %d, %.1f %% of teeth missed, pulses in %.0f %% of gaps: %s given as %s: %v",
							seed, 100*spoilt.missed, 100*spoilt.pulses, spec, given, err)
					}
				}
			}
		}
	}
}

// spoiltEdges misses a share of the teeth and adds pulses to a share of the gaps.
func spoiltEdges(s simEngine, w Wheel, missed, pulses float64) (edges []float64) {
	r := rand.New(rand.NewPCG(s.Seed, 8))
	crank, _, _ := roughroad.Engine.Run(s.Engine)
	place := turnDeg / float64(w.Positions)
	for i, e := range crank {
		if r.Float64() > missed {
			edges = append(edges, e)
		}
		gap := w.steps()[i%len(w.Angles)] > 1.5*place
		if gap && i+1 < len(crank) && r.Float64() < pulses {
			edges = append(edges, e+(0.2+0.6*r.Float64())*(crank[i+1]-e))
		}
	}
	return edges
}

// Marks that repeat without teeth between them are no wheel of many places.
func TestPlacesOfFewMarksAreNoTeeth(t *testing.T) {
	for _, spec := range []string{"4@0-70-180-250", "6@0-56-127-186-238-301", "8"} {
		edges, _ := edgesOf(mustWheel(spec), 200, 900)
		if turn, ok := turnByPlaces(edges); ok {
			t.Errorf("%s: taken for %v", spec, turn)
		}
	}
}
