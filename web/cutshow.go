package web

import (
	"math"
	"time"

	"halforder/engine"
	"halforder/measure/catalyst"
	"halforder/measure/order"
)

// say speaks a prompt in the room and shows it.
func (c *cutRun) say(phase string, n engine.Cylinder, words string, urgent bool) {
	c.mu.Lock()
	c.state.Phase, c.state.Cylinder, c.state.Words = phase, n, words
	c.mu.Unlock()
	c.room.say("say", map[string]any{"words": words, "urgent": urgent})
	c.show()
}

func (c *cutRun) phase(name string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.state.Phase = name
}

func (c *cutRun) show() {
	c.mu.Lock()
	s := c.state
	if n := len(c.speed.Y); n > 0 {
		s.RPM = math.Round(c.speed.Y[n-1])
	}
	s.Budget = c.budget()
	c.mu.Unlock()
	c.room.say("cut", s)
}

// budget is the share of the catalyst's allowed heat that is left.
func (c *cutRun) budget() float64 {
	s := c.ledger.During(c.at(c.now))
	share := 1.0
	const inletC = 450 // the model's gas at idle
	for _, rise := range s.RiseK {
		share = min(share, 1-rise/(catalyst.Careful.LimitC-inletC))
	}
	if c.way == byCoil && catalyst.Careful.SparkTotal > 0 {
		share = min(share, s.SparkLeft/catalyst.Careful.SparkTotal)
	}
	return min(max(share, 0), 1)
}

// meanSpeed over the last seconds.
func (c *cutRun) meanSpeed(seconds float64) float64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return meanSince(c.speed.T, c.speed.Y, c.now-seconds)
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

// lowest speed since a moment; the caller holds the lock.
func (c *cutRun) lowest(from float64) float64 {
	low := math.Inf(1)
	for i := len(c.speed.T) - 1; i >= 0 && c.speed.T[i] >= from; i-- {
		low = min(low, c.speed.Y[i])
	}
	return low
}

// dropNow is how far the speed is below what it was before the last mark; the
// caller holds the lock.
func (c *cutRun) dropNow() float64 {
	if len(c.marks) == 0 || len(c.speed.Y) == 0 {
		return 0
	}
	at := c.marks[len(c.marks)-1].At
	var before float64
	n := 0
	for i := len(c.speed.T) - 1; i >= 0 && c.speed.T[i] > at-3; i-- {
		if c.speed.T[i] < at {
			before += c.speed.Y[i]
			n++
		}
	}
	return before/math.Max(float64(n), 1) - c.speed.Y[len(c.speed.Y)-1]
}

// Sound gives a speed about five times a second, each over soundSpanS.
const (
	soundSpanS  = 1.0
	soundEvery  = 200 * time.Millisecond
	roughSpanS  = 2.5
	roughEveryN = 2
)

// listenToSound makes a speed track of the phone's sound.
func (c *cutRun) listenToSound() func() {
	go func() {
		tick := time.NewTicker(soundEvery)
		defer tick.Stop()
		for i := 0; ; i++ {
			select {
			case <-c.ctx.Done():
				return
			case <-tick.C:
				c.hearSound(i%roughEveryN == 0)
			}
		}
	}()
	return func() {}
}

func (c *cutRun) hearSound(rough bool) {
	t := c.b.soundTake(c.card.ID)
	if t == nil {
		return
	}
	c.room.mu.Lock()
	e := c.room.ears[t.ID]
	c.room.mu.Unlock()
	if e == nil {
		return
	}
	x, end := e.last(roughSpanS)
	rate := e.lower.out
	now := float64(end) / t.RateHz
	span := int(soundSpanS * rate)
	if len(x) < span {
		return
	}
	c.mu.Lock()
	stale := now <= c.now
	c.mu.Unlock()
	if stale {
		return
	}
	if f, err := hearAll(x[len(x)-span:], rate, c.card.Layout()); err == nil {
		if q, ok := f.Quantity(order.SpeedQuantity); ok {
			c.add(&c.speed.T, &c.speed.Y, now-soundSpanS/2, q.Value)
		}
	} else {
		c.add(&c.speed.T, &c.speed.Y, now-soundSpanS/2, 0) // no engine is heard: it stalled, or the phone lies wrong
	}
	if rough {
		if f, err := hearAll(x, rate, c.card.Layout()); err == nil {
			if q, ok := f.Quantity(order.MissingQuantity); ok {
				c.add(&c.rough.T, &c.rough.Y, now-roughSpanS/2, q.Value)
			}
		}
	}
	c.mu.Lock()
	c.now = now
	c.mu.Unlock()
}

func (c *cutRun) add(t, y *[]float64, at, value float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if n := len(*t); n == 0 || at > (*t)[n-1] {
		*t, *y = append(*t, at), append(*y, value)
	}
}

// last gives the newest seconds at the lower rate, and the index in the stream
// up to which they reach.
func (e *ear) last(seconds float64) ([]float32, uint64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	n := min(len(e.ring), int(seconds*e.lower.out))
	return append([]float32(nil), e.ring[len(e.ring)-n:]...), e.samples
}
