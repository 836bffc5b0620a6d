package main

import (
	"slices"

	"halforder/engine"
	"halforder/practice"
	"halforder/tools/idlesim"
)

// workOf is the strength of each cylinder, by number − 1: its mean work outside
// its own cuts above that during them, which is what a cut takes away, relative
// to the median one. A cut cylinder still pumps, one with a leaking valve more so.
func workOf(l engine.Layout, truth practice.Truth, done []idlesim.Cut) []float64 {
	sum, n := make([]float64, l.N()), make([]float64, l.N())
	cut, cuts := make([]float64, l.N()), make([]float64, l.N())
	for _, f := range truth.Firings {
		if isCut(f, done) {
			cut[f.Cylinder-1] += f.WorkJ
			cuts[f.Cylinder-1]++
			continue
		}
		sum[f.Cylinder-1] += f.WorkJ
		n[f.Cylinder-1]++
	}
	out := make([]float64, l.N())
	for i := range out {
		out[i] = sum[i]/max(n[i], 1) - cut[i]/max(cuts[i], 1)
	}
	ranked := slices.Clone(out)
	slices.Sort(ranked)
	for i, healthy := range out {
		out[i] = healthy / ranked[len(ranked)/2]
	}
	return out
}

func isCut(f practice.Firing, done []idlesim.Cut) bool {
	for _, c := range done {
		if f.T >= c.Start && f.T < c.End && c.Cylinders[0] == f.Cylinder {
			return true
		}
	}
	return false
}
