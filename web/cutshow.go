package web

import (
	"math"
	"time"

	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/measure/cutout/script"
	"halforder/measure/order"
)

// speak says the script's prompts in the room; the last stays on the screen.
func (c *cutRun) speak(prompts []script.Prompt) {
	for _, p := range prompts {
		c.state.Words = p.Text
		c.room.say("say", map[string]any{"words": p.Text, "urgent": p.Urgent})
	}
}

func (c *cutRun) show() {
	c.mu.Lock()
	s := c.state
	s.Budget = c.budget()
	c.mu.Unlock()
	c.room.say("cut", s)
}

// inletC is the gas before the catalyst at idle, as the model has it.
const inletC = 450

// budget is the share of the catalyst's allowed heat that is left.
func (c *cutRun) budget() float64 {
	s := c.books.Ledger.During(c.at(c.now))
	share := 1.0
	for _, rise := range s.RiseK {
		share = min(share, 1-rise/(catalyst.Careful.LimitC-inletC))
	}
	if c.means.Spark() {
		share = min(share, s.SparkLeft/catalyst.Careful.SparkTotal)
	}
	return min(max(share, 0), 1)
}

func meanSince(t, y []float64, from float64) float64 {
	var sum float64
	n := 0
	for i := len(t) - 1; i >= 0 && (t[i] >= from || n == 0); i-- {
		sum += y[i]
		n++
	}
	return sum / math.Max(float64(n), 1)
}

// lowest value since a moment.
func lowest(k cutout.Track, from float64) float64 {
	low := math.Inf(1)
	for i := len(k.T) - 1; i >= 0 && k.T[i] >= from; i-- {
		low = min(low, k.Y[i])
	}
	return low
}

// Sound gives a speed about five times a second, each over soundSpanS; how
// rough it runs takes longer to hear.
const (
	soundSpanS  = 1.0
	soundEvery  = 200 * time.Millisecond
	roughSpanS  = 2.5
	silentAfter = 3 * time.Second
)

// listenToSound feeds the script with what a phone hears, until the end.
func (c *cutRun) listenToSound() {
	tick := time.NewTicker(soundEvery)
	defer tick.Stop()
	last := time.Now()
	for {
		select {
		case <-c.ctx.Done():
			return
		case <-tick.C:
		}
		switch at, rpm, rough, ok := c.hearSound(); {
		case ok:
			last = time.Now()
			c.gather(at, rpm, rough)
			c.step(at, rpm, rough)
		case time.Since(last) > silentAfter:
			c.mu.Lock()
			at := c.now + soundEvery.Seconds()
			c.mu.Unlock()
			c.step(at, 0, 0)
		}
	}
}

func (c *cutRun) gather(at, rpm, rough float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if n := len(c.speed.T); n > 0 && at <= c.speed.T[n-1] {
		return
	}
	c.speed.T, c.speed.Y = append(c.speed.T, at), append(c.speed.Y, rpm)
	if rough > 0 {
		c.rough.T, c.rough.Y = append(c.rough.T, at), append(c.rough.Y, rough)
	}
}

// hearSound gives speed and roughness of the newest sound; ok false when there
// is nothing new. Speed 0: no engine can be heard.
func (c *cutRun) hearSound() (at, rpm, rough float64, ok bool) {
	t := c.b.soundTake(c.card.ID)
	if t == nil {
		return 0, 0, 0, false
	}
	c.room.mu.Lock()
	e := c.room.ears[t.ID]
	c.room.mu.Unlock()
	if e == nil {
		return 0, 0, 0, false
	}
	x, end := e.last(roughSpanS)
	span := int(soundSpanS * e.lower.out)
	at = float64(end)/t.RateHz - soundSpanS/2
	c.mu.Lock()
	stale := c.began && at <= c.now
	c.mu.Unlock()
	if stale || len(x) < span {
		return 0, 0, 0, false
	}
	if f, err := hearAll(x[len(x)-span:], e.lower.out, c.card.Layout()); err == nil {
		if q, found := f.Quantity(order.SpeedQuantity); found {
			rpm = q.Value
		}
	}
	if f, err := hearAll(x, e.lower.out, c.card.Layout()); err == nil {
		if q, found := f.Quantity(order.MissingQuantity); found {
			rough = max(q.Value, 1e-3)
		}
	}
	return at, rpm, rough, true
}

// last gives the newest seconds at the lower rate, and the index in the stream
// up to which they reach.
func (e *ear) last(seconds float64) ([]float32, uint64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	n := min(len(e.ring), int(seconds*e.lower.out))
	return append([]float32(nil), e.ring[len(e.ring)-n:]...), e.samples
}
