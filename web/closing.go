package web

import (
	"net/http"
	"sync"
)

// closings lets each take be finished once, however often it is asked for, and
// remembers what was answered. They are judged one after the other.
type closings struct {
	mu    sync.Mutex
	known map[string]*closing
	order []string
	turn  chan struct{}
}

type closing struct {
	done   chan struct{}
	answer finishAnswer
	err    error
}

const mostClosings = 256

func newClosings() *closings {
	return &closings{known: map[string]*closing{}, turn: make(chan struct{}, 1)}
}

func (c *closings) find(id string) *closing {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.known[id]
}

// once runs keep unless it runs or has run already. What failed may be tried
// again.
func (c *closings) once(id string, keep func() (finishAnswer, error)) *closing {
	c.mu.Lock()
	if known, ok := c.known[id]; ok {
		c.mu.Unlock()
		return known
	}
	mine := &closing{done: make(chan struct{})}
	c.known[id] = mine
	c.order = append(c.order, id)
	if len(c.order) > mostClosings {
		delete(c.known, c.order[0])
		c.order = c.order[1:]
	}
	c.mu.Unlock()
	defer close(mine.done)
	if mine.answer, mine.err = keep(); mine.err != nil {
		c.mu.Lock()
		delete(c.known, id)
		c.mu.Unlock()
	}
	return mine
}

// tell waits for the answer and writes it.
func (c *closing) tell(w http.ResponseWriter) error {
	<-c.done
	if c.err != nil {
		return c.err
	}
	return writeJSON(w, http.StatusOK, c.answer)
}
