package main

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/practice"
)

// workOf is the strength of each cylinder, by number − 1: its mean work outside
// its own cuts above that during them, which is what a cut takes away, relative
// to the median one. A cut cylinder still pumps, one with a leaking valve more so.
func workOf(l engine.Layout, truth practice.Truth, s practice.Script) []float64 {
	sum, n := make([]float64, l.N()), make([]float64, l.N())
	cut, cuts := make([]float64, l.N()), make([]float64, l.N())
	off := map[engine.Cylinder]bool{}
	step := 0
	for _, f := range truth.Firings {
		for step < len(s.Steps) && s.Steps[step].At <= f.T {
			var verb, what string
			var c engine.Cylinder
			if k, _ := fmt.Sscan(string(s.Steps[step].Do), &verb, &what, &c); k == 3 {
				off[c] = verb == "unplug"
			}
			step++
		}
		if off[f.Cylinder] {
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
