package crank

import "math"

// clearlyTurned is by how many weighted squares the best rotation of a wheel
// must fit better than the next to be believed, e⁶ to one.
const clearlyTurned = 12.0

// turnedByCompression prepares a recording of few marks at known angles whose
// rotation cannot be told from the steps, because each compression stretches
// them as much as they differ: the rotation whose speeds are most like an engine
// on its starter. ok is false when none clearly is or the cam does not count the
// marks.
func turnedByCompression(s Setup, rec Recording) (best *analysis, ok bool) {
	w := s.Wheel.settle()
	m := len(w.Angles)
	if m == 0 || m > fewMarks || len(w.Gaps) > 0 || periodic(w) || rec.check() != nil || rec.Labels != nil {
		return nil, false
	}
	from, to := countedStretch(rec, 2*m)
	if to-from < minCycles*2*m {
		return nil, false
	}
	least, second := math.Inf(1), math.Inf(1)
	for first := range m {
		c, err := assemble(decoded{wheel: w, runs: []run{{first: first, t: rec.Crank[from:to]}}}, rec.Cam)
		if err != nil {
			continue
		}
		a := &analysis{setup: s, clock: c, notes: c.notes}
		cycle, err := a.crankingCycle()
		if err != nil {
			continue
		}
		switch misfit := a.firstFit(cycle, fewShape).misfit; {
		case misfit < least:
			least, second, best = misfit, least, a
		case misfit < second:
			second = misfit
		}
	}
	return best, second-least > clearlyTurned && !math.IsInf(least, 1)
}
