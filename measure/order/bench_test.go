package order

import (
	"testing"

	"halforder/engine"
	"halforder/signal"
)

// BenchmarkMinute hears 60 s of a four-cylinder at 48 kHz.
func BenchmarkMinute(b *testing.B) {
	layout, err := engine.Parse("i4")
	if err != nil {
		b.Fatal(err)
	}
	x := synth{layout: layout, rate: 48000, rpm: 750, seconds: 60, work: []float64{1, 0, 1, 1}, noise: 0.1, seed: 1}.sound()
	for b.Loop() {
		if _, err := Analyse(signal.FromMemory(x), 48000, Config{Layout: layout}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(60*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
}
