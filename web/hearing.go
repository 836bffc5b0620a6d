package web

import (
	"runtime"
	"sync"
	"time"

	"halforder/engine"
)

// listenEvery is how often the live meters move at most.
const listenEvery = 160 * time.Millisecond

// analysesAtOnce are so short that answering the phones can wait for them.
var analysesAtOnce = runtime.NumCPU()

// hearing judges one live stream again and again, as something new comes.
type hearing struct {
	room   *room
	kind   string // of its messages
	layout engine.Layout
	judge  func() (meter, bool)
	wake   chan struct{}
	gone   chan struct{}
	once   sync.Once
}

func newHearing(room *room, kind string, layout engine.Layout, judge func() (meter, bool)) *hearing {
	h := &hearing{room: room, kind: kind, layout: layout, judge: judge, wake: make(chan struct{}, 1), gone: make(chan struct{})}
	go h.listen()
	return h
}

// nudge says that something new came.
func (h *hearing) nudge() {
	select {
	case h.wake <- struct{}{}:
	default:
	}
}

func (h *hearing) close() { h.once.Do(func() { close(h.gone) }) }

// listen judges at most every listenEvery, as soon as something new came.
func (h *hearing) listen() {
	for {
		select {
		case <-h.gone:
			return
		case <-h.room.all.done:
			return
		case <-h.wake:
		}
		if !h.room.watched() {
			continue
		}
		began := time.Now()
		h.room.all.inTurn(h.tell)
		select {
		case <-h.gone:
			return
		case <-time.After(listenEvery - time.Since(began)):
		}
	}
}

// tell says how the stream stands now.
func (h *hearing) tell() {
	m, ok := h.judge()
	if !ok {
		return
	}
	h.room.say(h.kind, m)
	if m.found.Likelihood != nil {
		h.room.together(h.kind, m, h.layout)
	}
}
