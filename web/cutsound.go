package web

import (
	"errors"
	"math"
	"time"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/measure/order"
	"halforder/signal"
	"halforder/web/take"
)

const (
	soundLook   = 25 * time.Millisecond  // how often new sound is looked for
	idleLook    = 500 * time.Millisecond // and how often an idle speed, to begin with
	idleSpanS   = 3.0                    // heard for that
	idleAgree   = 0.04                   // two looks in a row
	silentAfter = 3 * time.Second        // nothing came from the phone
	warnEvery   = 5 * time.Second
	giveUpAfter = 20 * time.Second
	trailLeadS  = 1.0 // of sound already there when the test begins
)

// soundTrail follows one phone's sound through a cut-out test.
type soundTrail struct {
	ear    *ear
	pace   *pace
	idle   engine.RPM
	begin  float64 // s of the take at which pace began
	taken  int     // samples at the lower rate
	looked time.Time
}

// listenToSound feeds the script with what a phone hears, until the end.
func (c *cutRun) listenToSound() {
	tick := time.NewTicker(soundLook)
	defer tick.Stop()
	trail, last, warned := &soundTrail{}, time.Now(), time.Time{}
	for {
		select {
		case <-c.ctx.Done():
			return
		case <-tick.C:
		}
		beats := trail.beats(c.earNow(), c.card.Layout())
		for _, b := range beats {
			c.gather(b)
			c.step(b.at, b.rpm, b.rough)
		}
		switch {
		case len(beats) > 0:
			last = time.Now()
		case time.Since(last) > giveUpAfter:
			c.breakOff()
			return
		case time.Since(last) > silentAfter && time.Since(warned) > warnEvery:
			warned = time.Now()
			c.aloud("I do not hear the phone any more. Put every plug back on.")
		}
	}
}

// earNow is who hears the phone on the engine, nil for nobody.
func (c *cutRun) earNow() *ear {
	t := c.b.soundTake(c.card.ID)
	if t == nil {
		return nil
	}
	c.room.mu.Lock()
	defer c.room.mu.Unlock()
	return c.room.ears[t.ID]
}

// beats are the speeds that are new since the last call. Until an idle speed is
// known, the engine counts as not running.
func (s *soundTrail) beats(e *ear, layout engine.Layout) []beat {
	if e == nil {
		return nil
	}
	if e != s.ear { // another phone, or the server died meanwhile
		*s = soundTrail{ear: e, idle: s.idle}
	}
	if s.idle == 0 && !s.findIdle(layout) {
		return nil
	}
	x, end, total, whole := e.since(s.taken)
	if len(x) == 0 {
		return nil
	}
	s.taken = total
	if s.pace == nil || !whole {
		var err error
		x = x[max(0, len(x)-int(trailLeadS*e.lower.out)):]
		if s.pace, err = newPace(layout, e.lower.out, s.idle); err != nil {
			return nil
		}
		s.begin = end - float64(len(x))/e.lower.out
	}
	out := s.pace.write(x)
	for i := range out {
		out[i].at += s.begin
	}
	return out
}

// findIdle listens for a speed that two looks agree on.
func (s *soundTrail) findIdle(layout engine.Layout) bool {
	if time.Since(s.looked) < idleLook {
		return false
	}
	s.looked = time.Now()
	x, _ := s.ear.last(idleSpanS)
	if float64(len(x)) < idleSpanS*s.ear.lower.out {
		return false
	}
	f, err := hearAll(x, s.ear.lower.out, layout)
	q, ok := f.Quantity(order.SpeedQuantity)
	if err != nil || !ok {
		s.pace = nil
		return false
	}
	if s.begin > 0 && math.Abs(q.Value/s.begin-1) < idleAgree {
		s.idle = engine.RPM(q.Value)
		return true
	}
	s.begin = q.Value
	return false
}

func (c *cutRun) gather(b beat) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if n := len(c.speed.T); n > 0 && b.at <= c.speed.T[n-1] {
		return
	}
	c.speed.T, c.speed.Y = append(c.speed.T, b.at), append(c.speed.Y, b.rpm)
	if b.rough > 0 {
		c.rough.T, c.rough.Y = append(c.rough.T, b.at), append(c.rough.Y, b.rough)
	}
}

// since gives the samples at the lower rate after the first n of the stream,
// the second of the take at which they end and how many there are now. whole is
// false when some were lost before them.
func (e *ear) since(n int) (x []float32, end float64, total int, whole bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	missed := e.total - n
	whole = n > 0 && missed <= len(e.ring)
	missed = min(missed, len(e.ring))
	return append([]float32(nil), e.ring[len(e.ring)-missed:]...), float64(e.samples) / e.rate, e.total, whole
}

// last gives the newest seconds at the lower rate, and the index in the stream
// up to which they reach.
func (e *ear) last(seconds float64) ([]float32, uint64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	n := min(len(e.ring), int(seconds*e.lower.out))
	return append([]float32(nil), e.ring[len(e.ring)-n:]...), e.samples
}

// leadSeconds of sound before the test help to know the engine as it was.
const leadSeconds = 10.0

// heardAgain hears the whole test once more, without haste: both sides of each
// cut are known now, and the speed follows it more closely than it can live.
func (c *cutRun) heardAgain(rec cutout.Recording) (cutout.Recording, error) {
	t := c.b.soundTake(c.card.ID)
	if t == nil {
		return rec, errors.New("the recording is finished already")
	}
	low := newLower(t.RateHz, liveRate)
	from := max(0, c.start-leadSeconds)
	x, err := soundBetween(t, low, from, c.now+1)
	if err != nil {
		return rec, err
	}
	again, err := cutout.FromSound(signal.FromMemory(x), low.out, rec.Layout, engine.RPM(meanSince(rec.Speed.T[:1], rec.Speed.Y[:1], 0)))
	if err != nil {
		return rec, err
	}
	for _, times := range [][]float64{again.Speed.T, again.Rough.T, again.Cycles.T} {
		for i := range times {
			times[i] += from
		}
	}
	rec.Speed, rec.Rough, rec.Cycles = again.Speed, again.Rough, again.Cycles
	return rec, nil
}

// soundBetween reads a take from a second to a second at the lower rate; what
// was not recorded is silence.
func soundBetween(t *take.Take, low *lower, from, to float64) (x []float32, err error) {
	first, end := uint64(from*t.RateHz), uint64(to*t.RateHz)
	at := first
	err = t.Each(func(c take.Chunk) error {
		samples := take.Samples(c.Data)
		if c.First+uint64(len(samples)) <= first || c.First >= end {
			return nil
		}
		if c.First > at {
			x = low.add(x, make([]float32, min(c.First, end)-at))
		}
		at = c.First + uint64(len(samples))
		x = low.add(x, samples)
		return nil
	})
	return x, err
}
