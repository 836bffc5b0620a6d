package web

import "testing"

// BenchmarkFeltJudgement is what one update of the motion meter costs.
func BenchmarkFeltJudgement(b *testing.B) {
	moves, layout := practiceMoves(b, 20, 60, "coil-open@3")
	f := &feeler{hearing: &hearing{layout: layout, wake: make(chan struct{}, 1)}}
	f.feel(moves, uint64(len(moves)))
	b.ResetTimer()
	began := cpu()
	for range b.N {
		f.judge()
	}
	b.ReportMetric(1000*(cpu()-began)/float64(b.N), "cpu-ms/op")
}
