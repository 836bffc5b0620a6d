package order

import (
	"slices"

	"halforder/finding"
)

// feelerSeconds of motion are kept: what is older says little of now.
const feelerSeconds = 120

// Feeler is Feel for a sensor that is still recording: give it samples as they
// come, in any order and with gaps, and ask for the finding over the last two
// minutes at any moment. Memory is bounded. Not safe for concurrent use.
type Feeler struct {
	config Config
	shakes []Shake
}

// NewFeeler prepares for a sensor. The error says what is wrong with the layout.
// Cuts are left out: a window that moves has no start to count from.
func NewFeeler(config Config) (*Feeler, error) {
	if err := config.Check(); err != nil {
		return nil, err
	}
	config.Cuts = nil
	return &Feeler{config: config}, nil
}

// Write takes samples.
func (f *Feeler) Write(shakes []Shake) {
	f.shakes = append(f.shakes, shakes...)
	if len(f.shakes) == 0 {
		return
	}
	newest := f.shakes[len(f.shakes)-1].Seconds
	if newest-f.shakes[0].Seconds > 2*feelerSeconds || len(f.shakes) > feelerMost {
		f.shakes = slices.DeleteFunc(f.shakes, func(s Shake) bool { return s.Seconds < newest-feelerSeconds })
		f.shakes = slices.Clone(f.shakes[max(0, len(f.shakes)-feelerMost/2):])
	}
}

// feelerMost bounds the memory whatever the times say: two minutes at 1000 Hz,
// doubled.
const feelerMost = 2 * 2 * 1000 * feelerSeconds

// Finding is what was felt so far. Errors as for Feel.
func (f *Feeler) Finding() (finding.Finding, error) {
	kept := f.shakes
	for len(kept) > 0 && kept[len(kept)-1].Seconds-kept[0].Seconds > feelerSeconds {
		kept = kept[1:]
	}
	return Feel(kept, f.config)
}
