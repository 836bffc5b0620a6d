package order

import "halforder/engine"

// beatAgrees is how many firings two ways of following the phase may differ by
// across a cut, to count as one.
const beatAgrees = 0.25

// beaten follows the phase of a motion from firing to firing, both ways in time:
// a miss slows the engine within a cycle, which blocks of some cycles smooth out.
func (m *motion) beaten(p pace, layout engine.Layout) pace {
	rate := min(m.rate, feelTop)
	rows := m.even(rate)
	t := tape{rate: rate, end: p.starts[p.cycles()] * rate}
	for _, r := range rows {
		t.rows = append(t.rows, r)
	}
	for c := range p.cycles() {
		t.starts = append(t.starts, p.starts[c]*rate)
		t.hz = append(t.hz, 1/(p.starts[c+1]-p.starts[c]))
	}
	steps := t.stepsAt()
	phase := t.linesAlong(steps, layout, func(int, []float64) {}).followed()
	out := pace{}
	for i := 1; i < len(phase); i++ {
		for k := float64(int(phase[i-1]) + 1); k <= phase[i]; k++ {
			part := (k - phase[i-1]) / (phase[i] - phase[i-1])
			out.starts = append(out.starts, (steps[i-1]+part*(steps[i]-steps[i-1]))/rate)
			out.scores = append(out.scores, 0)
		}
	}
	if len(out.scores) > 0 {
		out.scores = out.scores[1:]
	}
	return out
}
