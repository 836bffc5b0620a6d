package order

import (
	"math"

	"halforder/finding"
)

// weakShare is how much a weak cylinder still does.
const weakShare = 0.5

func shareOf(s byte) float64 {
	switch finding.State(s) {
	case finding.Dead:
		return 0
	case finding.Weak:
		return weakShare
	}
	return 1
}

func workOf(p finding.Pattern) []float64 {
	w := make([]float64, len(p))
	for k := range w {
		w[k] = shareOf(p[k])
	}
	return w
}

// patternsOf lists what the analysis weighs: all work, one weak or dead, two
// of them at every distance, each once up to rotation.
func patternsOf(n int) []finding.Pattern {
	all := finding.AllWork(n)
	out := []finding.Pattern{all}
	seen := map[finding.Pattern]bool{all: true}
	add := func(p finding.Pattern) {
		if p = p.Canonical(); !seen[p] {
			seen[p] = true
			out = append(out, p)
		}
	}
	bad := []finding.State{finding.Dead, finding.Weak}
	for _, s := range bad {
		add(all.With(0, s))
	}
	for m := 1; m < n; m++ {
		for _, s := range bad {
			for _, q := range bad {
				add(all.With(0, s).With(m, q))
			}
		}
	}
	return out
}

// patternPrior is how likely a pattern, up to rotation, is among misfiring
// engines before listening: mostly one cylinder; pairs share what is left, one
// class for every distance. Judgement (prior).
func patternPrior(p finding.Pattern) float64 {
	dead, weak := p.Count(finding.Dead), p.Count(finding.Weak)
	distances := float64(len(p))
	switch {
	case dead == 1 && weak == 0:
		return 1
	case dead == 0 && weak == 1:
		return 0.3
	case dead == 2:
		return 0.6 / distances
	case dead == 1:
		return 0.1 / distances
	default:
		return 0.1 / distances
	}
}

// rotations lists the distinct rotations of a pattern.
func rotations(p finding.Pattern) []finding.Pattern {
	var out []finding.Pattern
	for k := range len(p) {
		r := p.Rotate(k)
		if k > 0 && r == p {
			break
		}
		out = append(out, r)
	}
	return out
}

// logMean is the logarithm of the mean of exp(x).
func logMean(x []float64) float64 { return logSum(x) - math.Log(float64(len(x))) }
