package practice

import (
	"context"
	"fmt"
	"sync"
	"time"
)

// Live runs an engine against a wall clock, for a person or a program at the
// controls. Its methods may be called from any goroutine.
type Live struct {
	mu     sync.Mutex
	engine *Engine
	factor float64
}

// NewLive wraps an engine; it runs factor times faster than real time, 0 or 1
// for real time. From then on the engine must be used through Live only.
func NewLive(e *Engine, factor float64) (*Live, error) {
	if factor == 0 {
		factor = 1
	}
	if !(factor > 0 && factor <= 1000) {
		return nil, fmt.Errorf("practice: the clock factor is %g, expected more than 0 and at most 1000", factor)
	}
	return &Live{engine: e, factor: factor}, nil
}

// Run lets time pass until ctx ends. Each time beat fires it advances the
// engine to factor times the wall time passed and hands what the sensors saw
// since to the function saw. A caller without a beat passes nil: a twentieth
// of a second is used.
func (l *Live) Run(ctx context.Context, beat <-chan time.Time, saw func(Recording, State)) {
	if beat == nil {
		ticker := time.NewTicker(50 * time.Millisecond)
		defer ticker.Stop()
		beat = ticker.C
	}
	var last time.Time
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-beat:
			if !last.IsZero() {
				l.advance(now.Sub(last).Seconds()*l.factor, saw)
			}
			last = now
		}
	}
}

// advance never tries to catch up more than five seconds at once, so that a
// sleeping computer does not wake into a long stall.
func (l *Live) advance(seconds float64, saw func(Recording, State)) {
	l.mu.Lock()
	l.engine.RunUntil(l.engine.now + clamp(seconds, 0, 5*l.factor))
	rec, state := l.engine.Take(), l.engine.State()
	l.mu.Unlock()
	saw(rec, state)
}

// Do carries out an action now.
func (l *Live) Do(a Action) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.engine.Do(a)
}

// State reads dashboard and computer.
func (l *Live) State() State {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.engine.State()
}

// Truth hands over what was true since the last call.
func (l *Live) Truth() Truth {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.engine.TakeTruth()
}
