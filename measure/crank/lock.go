package crank

import "math"

// lockTurns is how many turns of edges a rotation of the wheel is judged on;
// marks that differ little need more.
func lockTurns(marks int) float64 {
	if marks <= fewMarks {
		return 12
	}
	return 2.5
}

// lock finds which mark edges[from] is, trying every rotation and a few
// starting edges (the first may be spurious). ok is false when no rotation
// fits clearly.
func lock(w Wheel, edges []float64) (skip, mark int, ok bool) {
	m := len(w.Angles)
	need := int(lockTurns(m)*float64(m)) + 2
	if len(edges) < min(need, m+2) {
		return 0, 0, false
	}
	best, second := math.Inf(1), math.Inf(1)
	bestSkip := -1
	for s := 0; s < 3 && s+m+1 < len(edges); s++ {
		part := edges[s:min(len(edges), s+need)]
		for k := range m {
			switch c := misfit(w, part, k); {
			case c < best:
				if bestSkip == s {
					second = best
				}
				best, skip, mark, bestSkip = c, s, k, s
			case s == bestSkip && c < second:
				second = c
			}
		}
	}
	marks := float64(need) // one misread gap costs about 1 in total
	distinct := (second-1.25*best)*marks > 0.3 || periodic(w)
	fits := 0.12
	if m <= fewMarks { // cranking changes the speed much between few marks
		fits = 0.3
	}
	return skip, mark, best < fits && distinct
}

// periodic reports whether the wheel looks the same from more than one mark,
// so that no rotation can be told from its own edges.
func periodic(w Wheel) bool { return symmetry(w) < len(w.Angles) }

// misfit is the mean squared logarithm of interval over expected, with faults
// counted dear.
func misfit(w Wheel, edges []float64, mark int) float64 {
	steps := w.steps()
	low, high := toothLow, toothHigh
	if len(steps) <= fewMarks {
		low, high = fewLow, fewHigh
	}
	last := edges[0]
	p := newPace(edges[1]-last, steps[mark])
	cost, n := 0.0, 0
	for _, t := range edges[1:] {
		r := p.ratio(t-last, steps[mark], low, high)
		switch {
		case r < low:
			cost += 0.5
		case r > high:
			cost++
			for missed := 0; r > high && missed < maxMissed; missed++ {
				last += p.expect(steps[mark])
				mark = (mark + 1) % len(steps)
				r = (t - last) / p.expect(steps[mark])
			}
			last = t
			mark = (mark + 1) % len(steps)
		default:
			l := math.Log(r)
			cost += l * l
			p.learn(t-last, steps[mark])
			last = t
			mark = (mark + 1) % len(steps)
		}
		n++
	}
	return cost / float64(n)
}
