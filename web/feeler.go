package web

import (
	"slices"
	"sync"

	"halforder/engine"
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
	moves   []take.Move // of the last feltSeconds
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
	f.moves = append(f.moves, moves...)
	if n := len(f.moves); n > 0 {
		from := f.moves[n-1].T - feltSeconds
		f.moves = slices.DeleteFunc(f.moves, func(m take.Move) bool { return m.T < from })
	}
	f.samples = samples
	f.mu.Unlock()
	f.nudge()
}

func (f *feeler) judge() (meter, bool) {
	f.mu.Lock()
	moves := slices.Clone(f.moves)
	m := meter{Take: f.take, Samples: f.samples}
	f.mu.Unlock()
	if len(moves) < 2 {
		return m, false
	}
	m.Over = moves[len(moves)-1].T - moves[0].T
	found, err := order.Feel(shakes(moves), order.Config{Layout: f.layout})
	if err != nil {
		m.Sentence = err.Error()
		return m, true
	}
	m.fill(found)
	return m, true
}
