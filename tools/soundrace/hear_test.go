//go:build unix

package main

import (
	"math"
	"path/filepath"
	"testing"

	"halforder/tools/race"
)

// BenchmarkHear hears the race's minute from its file. Its processor time is
// what counts: the mean, and the least of all runs for a busy machine.
func BenchmarkHear(b *testing.B) {
	path := filepath.Join(b.TempDir(), "minute.wav")
	if err := record(path); err != nil {
		b.Fatal(err)
	}
	least, before, runs := math.Inf(1), race.Seconds(), 0
	for b.Loop() {
		took, err := hear(path)
		if err != nil {
			b.Fatal(err)
		}
		least, runs = min(least, took), runs+1
	}
	b.ReportMetric(1000*least, "least-cpu-ms")
	b.ReportMetric(1000*(race.Seconds()-before)/float64(runs), "cpu-ms/op")
}
