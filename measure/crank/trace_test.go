package crank

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"halforder/engine"
)

// sensorTrace draws the signal of a sensor whose teeth pass at the given
// times: "hall" a square of 40 % duty, "inductive" one period of sine per
// tooth, zero in the gaps, amplitude with speed.
func sensorTrace(edges []float64, kind string, rate, noise, sign float64, coupled bool, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 5))
	n := int(edges[len(edges)-1] * rate)
	out := make([]float32, n)
	k := 0
	dc, alpha := 0.0, 1-math.Exp(-2*math.Pi*8/rate) // 8 Hz coupling
	for i := range out {
		t := float64(i) / rate
		for k+1 < len(edges) && edges[k+1] <= t {
			k++
		}
		tooth := edges[min(k+1, len(edges)-1)] - edges[k]
		if k > 0 {
			tooth = min(tooth, edges[k]-edges[k-1])
		}
		v := 0.0
		switch x := (t - edges[k]) / tooth; {
		case kind == "hall" && x >= 0 && x < 0.4:
			v = 5
		case kind == "inductive":
			// The tooth passes at the steep fall through zero.
			amp := 0.002 / tooth
			up := (edges[min(k+1, len(edges)-1)] - t) / tooth
			if x >= 0 && x < 0.35 {
				v = -amp * math.Sin(2*math.Pi*x/0.7)
			} else if up < 0.35 {
				v = amp * math.Sin(2*math.Pi*up/0.7)
			}
		}
		v += 0.3 * math.Sin(2*math.Pi*0.4*t) // drift
		if coupled {
			dc += alpha * (v - dc)
			v -= dc
		}
		out[i] = float32(sign * (v + noise*r.NormFloat64()))
	}
	return out
}

func TestTraceFindsTeethOfEverySensor(t *testing.T) {
	for _, c := range []struct {
		kind    string
		rate    float64
		sign    float64
		coupled bool
		rpm     float64
		within  float64 // seconds, one sigma of edge error
	}{
		{"hall", 1e6, 1, false, 800, 2e-6}, {"hall", 48e3, -1, true, 800, 12e-6}, {"hall", 100e3, 1, true, 3000, 6e-6},
		{"inductive", 48e3, 1, false, 800, 8e-6}, {"inductive", 48e3, -1, true, 3000, 6e-6},
		{"inductive", 10e3, 1, false, 800, 40e-6}, {"hall", 10e3, 1, false, 800, 40e-6},
	} {
		s := defaultSim("i4", "60-2", c.rpm)
		s.Cycles = 20
		rec, _ := s.run()
		for i := range rec.Crank {
			rec.Crank[i] += 0.01
		}
		tr, err := NewTrace(c.rate)
		if err != nil {
			t.Fatal(err)
		}
		noise := 0.05
		tr.Push(sensorTrace(rec.Crank, c.kind, c.rate, noise, c.sign, c.coupled, 3))
		edges, _, err := tr.Edges()
		if err != nil {
			t.Errorf("%+v: %v", c, err)
			continue
		}
		sigma, lost := edgeErrors(rec.Crank, edges)
		if c.kind == "hall" { // either flank of the tooth will do
			back := make([]float64, len(rec.Crank))
			for i := range back {
				j := min(i+1, len(back)-1)
				back[i] = rec.Crank[i] + 0.4*min(rec.Crank[j]-rec.Crank[j-1], rec.Crank[max(i, 1)]-rec.Crank[max(i, 1)-1])
			}
			if s, l := edgeErrors(back, edges); l < lost || l == lost && s < sigma {
				sigma, lost = s, l
			}
		}
		t.Logf("%s %.0f kHz sign %+.0f coupled %v %.0f rpm: scatter %.2g µs, %d lost of %d", c.kind, c.rate/1e3, c.sign, c.coupled, c.rpm, sigma*1e6, lost, len(rec.Crank))
		if sigma > c.within || lost > len(rec.Crank)/50 {
			t.Errorf("scatter %g s (at most %g), %d lost", sigma, c.within, lost)
		}
	}
}

// touchingTeeth draws an inductive sensor whose teeth are so near that its signal
// swings back between them nearly as steeply as it falls at each: the slope of a
// sum of bell-shaped fluxes, before which the wheel stands still.
func touchingTeeth(edges []float64, rate, noise, sign float64) []float32 {
	r := rand.New(rand.NewPCG(6, 5))
	out := make([]float32, int(edges[len(edges)-1]*rate))
	k := 0
	for i := range out {
		t := float64(i) / rate
		for k+1 < len(edges) && edges[k+1] <= t {
			k++
		}
		v := 0.0
		for j := max(1, k-3); j <= min(k+4, len(edges)-2); j++ {
			tooth := min(edges[j]-edges[j-1], edges[j+1]-edges[j])
			x := (t - edges[j]) / (0.27 * tooth)
			v -= 0.002 / tooth * x * math.Exp(-x*x/2)
		}
		out[i] = float32(sign * (v + noise*r.NormFloat64()))
	}
	return out
}

func TestTouchingTeethOfEitherPolarity(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		s := defaultSim("i4", "60-2", 800)
		s.Cycles = 20
		rec, _ := s.run()
		for i := range rec.Crank {
			rec.Crank[i] += 0.1
		}
		tr, err := NewTrace(44100)
		if err != nil {
			t.Fatal(err)
		}
		tr.Push(touchingTeeth(rec.Crank, 44100, 0.03, sign))
		edges, _, err := tr.Edges()
		if err != nil {
			t.Fatal(err)
		}
		if sigma, lost := edgeErrors(rec.Crank, edges); sigma > 8e-6 || lost > len(rec.Crank)/200 || len(edges) > len(rec.Crank)+8 {
			t.Errorf("sign %+.0f: scatter %.2g s, %d lost, %d edges found of %d", sign, sigma, lost, len(edges), len(rec.Crank))
		}
	}
}

// edgeErrors compares found edges with true ones, apart from a constant delay.
func edgeErrors(truth, found []float64) (sigma float64, lost int) {
	var off []float64
	k := 0
	for i := 60; i < len(truth)-60; i++ {
		for k+1 < len(found) && math.Abs(found[k+1]-truth[i]) <= math.Abs(found[k]-truth[i]) {
			k++
		}
		if d := found[k] - truth[i]; math.Abs(d) < 0.45*(truth[i+1]-truth[i]) {
			off = append(off, d)
		} else {
			lost++
		}
	}
	d := describe(off)
	return d.dev, lost
}

func TestTraceLeadsToTheDeadCylinder(t *testing.T) {
	for _, kind := range []string{"hall", "inductive"} {
		s := defaultSim("i4", "60-2", 800)
		s.Cycles = 60
		s.Dead = map[engine.Cylinder]bool{3: true}
		rec, _ := s.run()
		tr, _ := NewTrace(44100)
		tr.Push(sensorTrace(rec.Crank, kind, 44100, 0.05, -1, true, 9))
		edges, _, err := tr.Edges()
		if err != nil {
			t.Fatal(err)
		}
		r, err := Analyse(Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, Recording{Crank: edges, Cam: rec.Cam})
		if err != nil {
			t.Fatal(err)
		}
		if got := r.Dead(); len(got) != 1 || got[0] != 3 {
			t.Errorf("%s: dead %v (%s), want 3", kind, got, r.Finding.Sentence)
		}
	}
}

func TestTraceOfNothing(t *testing.T) {
	if _, err := NewTrace(math.NaN()); err == nil {
		t.Error("a rate of NaN was accepted")
	}
	tr, _ := NewTrace(44100)
	tr.Push(make([]float32, 100000))
	if e, _, err := tr.Edges(); err == nil {
		t.Errorf("silence has %d edges", len(e))
	}
}

// Law: the size of the pieces changes nothing but the last digits of the sums, and
// how many of the first teeth are taken for noise before the engine turns.
func TestTraceInPiecesIsTheSame(t *testing.T) {
	s := defaultSim("i4", "60-2", 2000)
	s.Cycles = 12
	rec, _ := s.run()
	x := sensorTrace(rec.Crank, "hall", 1e6, 0.05, 1, false, 3)
	edges := func(most int) []float64 {
		r := rand.New(rand.NewPCG(uint64(most), 1))
		tr, err := NewTrace(1e6)
		if err != nil {
			t.Fatal(err)
		}
		for rest := x; len(rest) > 0; {
			n := min(1+r.IntN(most), len(rest))
			tr.Push(rest[:n])
			rest = rest[n:]
		}
		out, _, err := tr.Edges()
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	want := edges(1)
	for _, most := range []int{3, 20, 9000, len(x)} {
		got := edges(most)
		n := min(len(got), len(want))
		if first := max(len(got), len(want)) - n; first > 10 {
			t.Fatalf("in pieces of up to %d samples %d teeth, sample by sample %d", most, len(got), len(want))
		}
		for i := 1; i <= n; i++ {
			if a, b := got[len(got)-i], want[len(want)-i]; math.Abs(a-b) > 1e-9 {
				t.Fatalf("in pieces of up to %d samples tooth %d from the end is at %.9f s, sample by sample at %.9f s", most, i, a, b)
			}
		}
	}
}

func BenchmarkTrace1MHz60s(b *testing.B) {
	s := defaultSim("i4", "60-2", 3000)
	s.Cycles = 30
	rec, _ := s.run()
	second := sensorTrace(rec.Crank, "hall", 1e6, 0.05, 1, false, 3)[:1_000_000]
	b.ReportAllocs()
	for b.Loop() {
		start := time.Now()
		tr, _ := NewTrace(1e6)
		for range 60 {
			tr.Push(second)
		}
		if _, _, err := tr.Edges(); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(time.Since(start).Seconds(), "s/60s-trace")
	}
}

func FuzzTrace(f *testing.F) {
	f.Add([]byte{0, 255, 0, 255, 3, 9}, 48000.0)
	f.Fuzz(func(t *testing.T, data []byte, rate float64) {
		tr, err := NewTrace(rate)
		if err != nil {
			return
		}
		block := make([]float32, 0, len(data))
		for _, b := range data {
			block = append(block, math.Float32frombits(uint32(b)<<24|uint32(b)<<11))
		}
		for range 50 {
			tr.Push(block)
		}
		edges, _, err := tr.Edges()
		for i := 1; err == nil && i < len(edges); i++ {
			if !(edges[i] > edges[i-1]) {
				t.Fatalf("edge %d at %g s, the one before at %g s", i, edges[i], edges[i-1])
			}
		}
	})
}
