package exercise

import (
	"math"
	"sort"

	"halforder/engine"
	"halforder/practice"
)

// starter is relative compression: the peaks of starter current while cranking
// without fuel, named by crank and cam edges.
func (b *bay) starter() result {
	b.off()
	b.do("pedal 100")
	b.wait(0.5)
	b.attach(practice.Sensors{Starter: &practice.Sampling{Hz: 2000}, Crank: true, Cam: true})
	b.do("crank 5")
	b.wait(5)
	rec := b.taken()
	b.off()
	peaks := compressionPeaks(b, rec)
	// Against the median: the cylinder after a weak one reads high, because the
	// weak one gave the crank no push.
	usual, low := median(peaks), make([]float64, len(peaks))
	for i, p := range peaks {
		low[i] = 1 - p/math.Max(usual, 1)
	}
	return result{"Peaks of starter current in A by cylinder: " + list(peaks, "%.0f") + ".", "low " + names(low, 0.15)}
}

// compressionPeaks is the mean peak of current before each cylinder's top dead
// centre, over the cycles that begin with a cam edge after the first second.
func compressionPeaks(b *bay, rec practice.Recording) []float64 {
	sums, n := make([]float64, b.layout.N()), make([]float64, b.layout.N())
	for _, cam := range rec.Cam {
		if cam < rec.Start+1 {
			continue
		}
		for _, c := range b.layout.Cylinders() {
			ahead := float64((b.layout.Angle(c) - camDeg).WrapCycle())
			if ahead < 100 {
				ahead += float64(engine.CycleDeg)
			}
			from, to := timeAfter(rec.Crank, cam, ahead-100), timeAfter(rec.Crank, cam, ahead)
			if from == 0 || to <= from {
				continue
			}
			sums[c-1] += highest(rec.StarterAmps, from, to)
			n[c-1]++
		}
	}
	for i := range sums {
		sums[i] /= math.Max(n[i], 1)
	}
	return sums
}

// The wheel of practice.Defaults: 60−2 teeth, the first after the gap at 84°
// of a turn; the cam edge at 300° of the cycle.
const (
	camDeg   = 300
	gapDeg   = 84
	toothDeg = 6.0
)

// timeAfter is the time at which the crank has turned so many degrees past a
// cam edge, 0 when that is beyond the edges.
func timeAfter(edges []float64, cam, degrees float64) float64 {
	i := sort.SearchFloat64s(edges, cam-1e-4)
	for at := 0.0; i+1 < len(edges); i++ {
		step := toothDeg
		if math.Mod(camDeg+at+step, 360) == gapDeg-2*toothDeg {
			step = 3 * toothDeg
		}
		if at+step > degrees {
			return edges[i] + (edges[i+1]-edges[i])*(degrees-at)/step
		}
		at += step
	}
	return 0
}

func highest(t practice.Trace, from, to float64) (top float64) {
	i, j := int((from-t.Start)*t.Hz), int((to-t.Start)*t.Hz)
	for ; i < j && i < len(t.X); i++ {
		if i >= 0 {
			top = math.Max(top, float64(t.X[i]))
		}
	}
	return top
}
