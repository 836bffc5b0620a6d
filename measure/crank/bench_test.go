//go:build unix

package crank

import (
	"math/rand/v2"
	"syscall"
	"testing"

	"halforder/engine"
)

// tenMillion lays simulated running end to end until there are ten million
// edges, jitter drawn anew.
func tenMillion(tb testing.TB, n int) (Setup, Recording) {
	tb.Helper()
	s := defaultSim("i4", "60-2", 2000)
	s.Cycles = 60
	s.MissP = map[engine.Cylinder]float64{2: 0.05}
	part, _ := s.run()
	r := rand.New(rand.NewPCG(1, 2))
	var rec Recording
	// The piece from one first tooth to another, so that the turns join.
	from, to := 10*116, 50*116
	span := part.Crank[to] - part.Crank[from]
	for offset := 0.0; len(rec.Crank) < n; offset += span {
		for _, t := range part.Crank[from:to] {
			rec.Crank = append(rec.Crank, t+offset+0.2e-6*r.NormFloat64())
		}
		for _, t := range part.Cam {
			if t >= part.Crank[from] && t < part.Crank[to] {
				rec.Cam = append(rec.Cam, t+offset)
			}
		}
	}
	rec.Crank = rec.Crank[:n]
	return Setup{Layout: s.Layout, Wheel: s.wheel, References: s.reference()}, rec
}

// processorSeconds is the processor time of this process: what one core would
// need, whatever else runs on the machine.
func processorSeconds() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

func BenchmarkTenMillionEdges(b *testing.B) {
	setup, rec := tenMillion(b, 10_000_000)
	b.ReportAllocs()
	b.ResetTimer()
	before, runs := processorSeconds(), 0
	defer func() { b.ReportMetric((processorSeconds()-before)/float64(max(runs, 1)), "cpu-s/op") }()
	for b.Loop() {
		runs++
		r, err := Analyse(setup, rec)
		if err != nil {
			b.Fatal(err)
		}
		if m := r.Missing(); len(m) != 1 || m[0] != 2 {
			b.Fatalf("missing %v: %s", m, r.Finding.Sentence)
		}
	}
}
