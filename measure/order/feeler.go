package order

import (
	"fmt"
	"slices"

	"halforder/finding"
)

// FeelerSeconds of motion say what the engine does now, and are enough to judge
// it by.
const FeelerSeconds = 120.0

// Feeler is Feel for a sensor that is still recording: give it samples as they
// come, in any order and with gaps, and ask for the finding over the last seconds
// at any moment. Memory is bounded. Not safe for concurrent use.
type Feeler struct {
	config Config
	span   float64 // s
	shakes []Shake
}

// NewFeeler prepares for a sensor that is judged by so many seconds. The error
// says what is wrong with them or with the layout. Cuts are left out: a window
// that moves has no start to count from.
func NewFeeler(config Config, seconds float64) (*Feeler, error) {
	if err := config.Check(); err != nil {
		return nil, err
	}
	if !(seconds >= feelShortest && seconds <= FeelerSeconds) {
		return nil, fmt.Errorf("a sensor cannot be judged by %g s at a time: expected %g to %g", seconds, feelShortest, FeelerSeconds)
	}
	config.Cuts = nil
	return &Feeler{config: config, span: seconds}, nil
}

// Write takes samples.
func (f *Feeler) Write(shakes []Shake) {
	f.shakes = append(f.shakes, shakes...)
	if len(f.shakes) == 0 {
		return
	}
	newest := f.shakes[len(f.shakes)-1].Seconds
	if newest-f.shakes[0].Seconds > 2*f.span || len(f.shakes) > f.most() {
		f.shakes = slices.DeleteFunc(f.shakes, func(s Shake) bool { return s.Seconds < newest-f.span })
		f.shakes = slices.Clone(f.shakes[max(0, len(f.shakes)-f.most()/2):])
	}
}

// most bounds the memory whatever the times say: the span at 1000 Hz, doubled.
func (f *Feeler) most() int { return int(2 * 2 * 1000 * f.span) }

// Clone is a Feeler of its own with what was felt so far.
func (f *Feeler) Clone() *Feeler {
	return &Feeler{f.config, f.span, slices.Clone(f.kept())}
}

// kept are the samples of the last seconds.
func (f *Feeler) kept() []Shake {
	kept := f.shakes
	for len(kept) > 0 && kept[len(kept)-1].Seconds-kept[0].Seconds > f.span {
		kept = kept[1:]
	}
	return kept
}

// Seconds is the time from the first to the last sample that a Finding is over.
func (f *Feeler) Seconds() float64 {
	kept := f.kept()
	if len(kept) == 0 {
		return 0
	}
	return kept[len(kept)-1].Seconds - kept[0].Seconds
}

// Finding is what was felt so far. Errors as for Feel.
func (f *Feeler) Finding() (finding.Finding, error) { return Feel(f.kept(), f.config) }
