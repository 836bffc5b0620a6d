package web

import (
	"sync"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/web/take"
)

// feltSeconds of motion are judged live: a browser's motion sensor gives so few
// samples that it takes longer than sound.
const feltSeconds = 12.0

// feeler is one stream of motion being felt live.
type feeler struct {
	*hearing
	take string

	mu      sync.Mutex
	felt    *order.Feeler // of the last feltSeconds; nil before the first motion
	broken  error         // why there is none
	samples uint64
}

func newFeeler(room *room, takeID string, layout engine.Layout) *feeler {
	f := &feeler{take: takeID}
	f.hearing = newHearing(room, "felt", layout, f.judge)
	return f
}

// feel takes motion; samples is how many there were so far.
func (f *feeler) feel(moves []take.Move, samples uint64) {
	f.mu.Lock()
	if f.felt == nil && f.broken == nil {
		f.felt, f.broken = order.NewFeeler(order.Config{Layout: f.layout}, feltSeconds)
	}
	if f.felt != nil {
		f.felt.Write(shakes(moves))
	}
	f.samples = samples
	f.mu.Unlock()
	f.nudge()
}

func (f *feeler) judge() (meter, bool) {
	now, m, err := f.now()
	if now != nil {
		m.Over = now.Seconds()
	}
	if err == nil && m.Over == 0 {
		return m, false
	}
	var found finding.Finding
	if err == nil {
		found, err = now.Finding()
	}
	if err != nil {
		m.Sentence = err.Error()
		return m, true
	}
	m.fill(found)
	return m, true
}

// now is what was felt so far, to be judged while more comes.
func (f *feeler) now() (*order.Feeler, meter, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	m := meter{Take: f.take, Samples: f.samples}
	if f.felt == nil {
		return nil, m, f.broken
	}
	return f.felt.Clone(), m, nil
}
