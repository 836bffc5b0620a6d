package order

import (
	"fmt"
	"math"
)

// Gap says that the stream lost so many seconds of samples here; the next Write
// goes on behind them. All that was heard before counts on. Speed and phase are
// found anew, so that no cycle is made of both sides.
func (l *Listener) Gap(seconds float64) error {
	if !(seconds >= 0 && seconds < math.MaxInt32) {
		return fmt.Errorf("a gap of %g s makes no sense: expected 0 or more", seconds)
	}
	l.flush()
	lost := int64(math.Round(seconds * l.bank.SampleRate()))
	l.heard.settle()
	l.bank.Gap(lost)
	l.marks.samples += lost
	l.restarts, l.refuted = 0, 0
	l.start(l.config.Speed, int(l.bank.FrameRate()*windowSeconds))
	return nil
}

// settled is what was heard before the last gap: no later doubt about the
// octave undoes it.
type settled struct {
	kept, judged, counted int
	total                 tally
	speeds                trace
	last                  []cycle // the end of it
}

// settle judges what is left of the piece before a gap and begins a new one.
func (h *heard) settle() {
	h.judged = h.stretches()
	h.endTape()
	h.settled = settled{len(h.kept), len(h.judged), len(h.counted), h.total, h.speeds.clone(), h.last()}
	h.cycles = nil
	h.piece++
}

// last is the newest run of cycles of one piece that is long enough to judge.
func (h *heard) last() []cycle {
	if len(h.cycles) < minCycles {
		return h.settled.last
	}
	return h.cycles[max(0, len(h.cycles)-stretchCycles):]
}

// forget drops what was heard since the last gap, not the level of the samples.
func (h *heard) forget() {
	h.cycles, h.tape = nil, tape{}
	h.kept, h.judged, h.counted = h.kept[:h.settled.kept], h.judged[:h.settled.judged], h.counted[:h.settled.counted]
	h.total, h.speeds = h.settled.total, h.settled.speeds.clone()
}
