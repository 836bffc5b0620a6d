package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"halforder/job"
)

// rooms are the jobs that somebody listens to or measures on.
type rooms struct {
	b    *Bench
	mu   sync.Mutex
	open map[job.ID]*room
	done chan struct{}
	turn chan struct{} // analyses at once
}

// room is one job: its watchers, its ears, its practice car.
type room struct {
	all  *rooms
	id   job.ID
	mu   sync.Mutex
	here map[chan message]bool
	last map[string]message // latest of each kind, for who comes later
	when map[string]time.Time
	ears map[string]*ear    // by take
	feel map[string]*feeler // by take
	car  *practiceCar
	cut  *cutRun
}

// message is one server-sent event.
type message struct {
	kind string
	data []byte
}

func newRooms(b *Bench) *rooms {
	return &rooms{b: b, open: map[job.ID]*room{}, done: make(chan struct{}), turn: make(chan struct{}, analysesAtOnce)}
}

func (r *rooms) of(id job.ID) *room {
	r.mu.Lock()
	defer r.mu.Unlock()
	found, ok := r.open[id]
	if !ok {
		found = &room{all: r, id: id, here: map[chan message]bool{}, last: map[string]message{}, when: map[string]time.Time{}, ears: map[string]*ear{}, feel: map[string]*feeler{}}
		r.open[id] = found
	}
	return found
}

// changed tells everybody in the room that the card has grown.
func (r *rooms) changed(card *job.Card) {
	room := r.of(card.ID)
	room.say("card", map[string]any{"last": card.Last, "status": card.Status})
	if car := room.practice(); car != nil {
		car.follow(card)
	}
}

func (r *rooms) close() {
	r.mu.Lock()
	defer r.mu.Unlock()
	select {
	case <-r.done:
		return
	default:
		close(r.done)
	}
	for _, room := range r.open {
		room.stop()
	}
}

// stop ends what runs in the room.
func (r *room) stop() {
	r.mu.Lock()
	car, cut := r.car, r.cut
	r.car, r.cut = nil, nil
	r.mu.Unlock()
	if cut != nil {
		cut.cancel()
	}
	if car != nil {
		car.stop()
	}
}

func (r *room) practice() *practiceCar {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.car
}

// say sends a message to everybody in the room. Who reads too slowly misses
// some: the next one replaces them.
func (r *room) say(kind string, v any) {
	data, err := json.Marshal(v)
	if err != nil {
		r.all.b.Log.Error("live message", "kind", kind, "error", err)
		return
	}
	m := message{kind, data}
	r.mu.Lock()
	defer r.mu.Unlock()
	if kind != "say" {
		r.last[kind] = m
	}
	for watcher := range r.here {
		select {
		case watcher <- m:
		default:
		}
	}
}

// sayOften says what changes all the time, ten times a second at most: more
// cannot be seen.
func (r *room) sayOften(kind string, v any) {
	now := time.Now()
	r.mu.Lock()
	soon := now.Sub(r.when[kind]) < oftenEvery
	if !soon {
		r.when[kind] = now
	}
	r.mu.Unlock()
	if !soon {
		r.say(kind, v)
	}
}

const oftenEvery = 100 * time.Millisecond

// forget drops what latecomers would be told of a kind.
func (r *room) forget(kinds ...string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, k := range kinds {
		delete(r.last, k)
	}
}

const (
	mostWatchers  = 40 // of one job
	watcherBuffer = 64
	heartbeat     = 10 * time.Second
)

func (r *room) enter() (chan message, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.here) >= mostWatchers {
		return nil, wrong(http.StatusTooManyRequests, "%d screens watch this job already: close some", len(r.here))
	}
	watcher := make(chan message, watcherBuffer)
	for _, m := range r.last {
		watcher <- m
	}
	r.here[watcher] = true
	return watcher, nil
}

// watched reports whether anybody looks.
func (r *room) watched() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.here) > 0
}

func (r *room) leave(watcher chan message) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.here, watcher)
}

// watch streams what happens in a job until the browser goes.
func (b *Bench) watch(w http.ResponseWriter, r *http.Request) error {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return wrong(http.StatusNotFound, "there is no such job")
	}
	if _, err := b.card(r); err != nil {
		return err
	}
	room := b.live.of(job.ID(id))
	watcher, err := room.enter()
	if err != nil {
		return err
	}
	defer room.leave(watcher)
	w.Header().Set("Content-Type", "text/event-stream")
	control := http.NewResponseController(w)
	if _, err := fmt.Fprint(w, "retry: 1000\n\n"); err != nil {
		return nil
	}
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	for {
		if err := control.Flush(); err != nil {
			return nil
		}
		select {
		case <-r.Context().Done():
			return nil
		case <-b.live.done:
			return nil
		case <-beat.C:
			_, err = fmt.Fprint(w, ": here\n\n")
		case m := <-watcher:
			_, err = fmt.Fprintf(w, "event: %s\ndata: %s\n\n", m.kind, m.data)
		}
		if err != nil {
			return nil
		}
	}
}

var errPracticeOnly = errors.New("this job has a real car: only a practice engine can be driven from here")
