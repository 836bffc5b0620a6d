package web

import "net/http"

// closings lets each take be finished once, however often it is asked for, and
// remembers what was answered. They are judged one after the other.
type closings struct {
	memory[string, closing]
	turn chan struct{}
}

type closing struct {
	done   chan struct{}
	answer finishAnswer
	err    error
}

const mostClosings = 256

func newClosings() *closings {
	return &closings{memory: newMemory[string, closing](mostClosings), turn: make(chan struct{}, 1)}
}

// once runs keep unless it runs or has run already. What failed may be tried
// again.
func (c *closings) once(id string, keep func() (finishAnswer, error)) *closing {
	mine, fresh := c.begin(id, &closing{done: make(chan struct{})})
	if !fresh {
		return mine
	}
	defer close(mine.done)
	if mine.answer, mine.err = keep(); mine.err != nil {
		c.forget(id)
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
