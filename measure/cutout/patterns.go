package cutout

import (
	"math"

	"halforder/engine"
	"halforder/finding"
)

// most cylinders for which every pattern is weighed; larger engines are weighed
// with up to three troubled cylinders, and whole banks.
const everyPatternUpTo = 8

// patternsOf lists the patterns weighed for an engine.
func patternsOf(l engine.Layout) []finding.Pattern {
	n := l.N()
	most := n
	if n > everyPatternUpTo {
		most = 3
	}
	var out []finding.Pattern
	var grow func(p []byte, troubled int)
	grow = func(p []byte, troubled int) {
		if len(p) == n {
			out = append(out, finding.Pattern(p))
			return
		}
		for _, s := range states {
			more := troubled
			if s != finding.Works {
				more++
			}
			if more <= most {
				grow(append(append(make([]byte, 0, n), p...), byte(s)), more)
			}
		}
	}
	grow(nil, 0)
	if most < n {
		out = append(out, bankPatterns(l)...)
	}
	return out
}

func bankPatterns(l engine.Layout) []finding.Pattern {
	var out []finding.Pattern
	for _, bank := range l.Banks() {
		if len(bank) <= 3 || len(bank) == l.N() {
			continue
		}
		for _, s := range []finding.State{finding.Weak, finding.Dead} {
			p := finding.AllWork(l.N())
			for _, c := range bank {
				p = p.With(l.Position(c), s)
			}
			out = append(out, p)
		}
	}
	return out
}

// census counts the states in a pattern: working, weak, dead.
func census(p finding.Pattern) (count [3]int) {
	for _, s := range []byte(p) {
		count[stateIndex(s)]++
	}
	return count
}

// priorLog is what is believed of patterns before the test, for the verdicts
// only (the likelihood does not hold it): a car that came in for running rough
// has no troubled cylinder in one of five cases, one in over half, two in one
// of five (judgement, after trade notes 2.1). Evenly over the patterns of a count;
// an engine of which nothing works does not run.
func priorLog(patterns []finding.Pattern) []float64 {
	var byCount [engine.MaxCylinders + 1]float64
	for _, p := range patterns {
		c := census(p)
		byCount[c[1]+c[2]]++
	}
	out := make([]float64, len(patterns))
	for i, p := range patterns {
		c := census(p)
		if c[0] == 0 {
			out[i] = math.Inf(-1)
			continue
		}
		out[i] = logOf(troubledP(c[1]+c[2]) / byCount[c[1]+c[2]])
	}
	return out
}

// usualMix is how often a cylinder is in each state beforehand.
func usualMix(patterns []finding.Pattern, prior []float64) (mix [3]float64) {
	var all float64
	for i, p := range patterns {
		for j, many := range census(p) {
			mix[j] += math.Exp(prior[i]) * float64(many)
			all += math.Exp(prior[i]) * float64(many)
		}
	}
	for j := range mix {
		mix[j] /= all
	}
	return mix
}

func troubledP(count int) float64 {
	switch count {
	case 0:
		return 0.20
	case 1:
		return 0.57
	case 2:
		return 0.19
	}
	p := 0.03
	for range count - 3 {
		p /= 4
	}
	return p
}
