package web

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"halforder/engine"
	"halforder/job"
	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/practice"
)

// The script's times, in seconds. A hand needs about two seconds from the
// prompt to the plug and back; idle control hides the drop within one second,
// so what is cut longer than that only heats the catalyst (trade notes 3.1).
const (
	baselineS  = 9.0
	handS      = 2.5 // from the prompt to the plug
	cutS       = 4.0
	restS      = 6.0
	stallRPM   = 250.0
	patienceS  = 120.0
	mostCuts   = 3 // of one cylinder
	clearFrom  = 0.95
	tickMillis = 50
)

// cutRun is one hands-free cut-out test under way.
type cutRun struct {
	b      *Bench
	room   *room
	card   *job.Card
	by     string
	way    cutWay
	car    *practiceCar // nil: a person cuts, a phone listens
	ctx    context.Context
	cancel context.CancelFunc
	epoch  time.Time // of second 0 on the books' clock

	mu     sync.Mutex
	now    float64 // s on the clock of the samples
	speed  cutout.Track
	air    cutout.Track
	rough  cutout.Track
	marks  []cutout.Mark
	ledger *catalyst.Ledger
	state  cutState
	ended  string // why it was broken off
}

// cutState is what the page shows.
type cutState struct {
	Phase    string          `json:"phase"` // listen, off, cut, on, rest, wait, judge, done, broken
	Words    string          `json:"words"`
	Cylinder engine.Cylinder `json:"cylinder,omitempty"`
	Count    int             `json:"count"` // cuts made
	Of       int             `json:"of"`
	RPM      float64         `json:"rpm"`
	Left     float64         `json:"left_s"`  // of this cut
	Whole    float64         `json:"whole_s"` // that it may last
	Budget   float64         `json:"budget"`  // catalyst heat left, 0 to 1
	Seen     bool            `json:"seen"`    // the drop was seen
	Drops    []liveDrop      `json:"drops"`
	Entry    int64           `json:"entry,omitempty"`
}

// liveDrop is what a cut showed at once; the judgement comes at the end.
type liveDrop struct {
	Cylinder engine.Cylinder `json:"cylinder"`
	RPM      float64         `json:"rpm"` // lost at most within the cut
}

func (b *Bench) newCutRun(room *room, card *job.Card, ask cutAsk, by string) (*cutRun, error) {
	ledger, err := catalyst.New(card.Layout(), catalyst.Careful)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	run := &cutRun{b: b, room: room, card: card, by: by, way: ask.Way, ctx: ctx, cancel: cancel, ledger: ledger, epoch: b.Now()}
	run.state.Of = card.Layout().N()
	if b.live.isPractice(card.ID) {
		if run.car, err = b.carOf(card); err == nil && !run.car.live.State().Running {
			err = wrong(422, "start the practice engine first")
		}
	} else if b.soundTake(card.ID) == nil {
		err = wrong(422, "nothing is heard yet: start a recording on the phone that lies on the engine, or on this device under “Listen”")
	}
	if err != nil {
		cancel()
		return nil, err
	}
	return run, nil
}

// run goes through the script.
func (c *cutRun) run() {
	defer c.end()
	stop := c.listen()
	defer stop()
	c.book(nil)
	c.say("listen", 0, "Hands off. I listen to the engine first.", false)
	if !c.wait(baselineS) {
		return
	}
	var done []engine.Cylinder
	for {
		next, ok := c.next(done)
		if !ok {
			break
		}
		if !c.allowed(next) || !c.one(next) {
			return
		}
		done = append(done, next)
		c.mu.Lock()
		c.state.Count = len(done)
		c.state.Of = max(c.state.Of, len(done))
		c.mu.Unlock()
	}
	c.judge()
}

// next is the cylinder to cut now: each once in random order against drift,
// then those whose verdict stands in doubt.
func (c *cutRun) next(done []engine.Cylinder) (engine.Cylinder, bool) {
	all := c.card.Layout().Cylinders()
	rng := rand.New(rand.NewPCG(uint64(c.epoch.UnixNano()), 0xc07))
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for _, n := range all {
		if !slices.Contains(done, n) {
			return n, true
		}
	}
	result, err := cutout.Analyse(c.recording())
	if err != nil {
		return 0, false
	}
	best, doubt := engine.Cylinder(0), 1-clearFrom
	for _, x := range result.Cylinders {
		times := 0
		for _, d := range done {
			if d == x.Number {
				times++
			}
		}
		if open := min(x.PWorks, x.PWeak+x.PDead); times < mostCuts && open > doubt && x.Number != done[len(done)-1] {
			best, doubt = x.Number, open
		}
	}
	return best, best != 0
}

// allowed waits until the catalyst may be loaded again; false: never, or
// broken off.
func (c *cutRun) allowed(n engine.Cylinder) bool {
	for {
		c.mu.Lock()
		a, err := c.ledger.Before(c.at(c.now), c.way.condition([]engine.Cylinder{n}))
		c.state.Whole = min(cutS+handS, a.Seconds)
		c.mu.Unlock()
		switch {
		case err != nil || a.WaitSeconds == catalyst.Never || math.IsInf(a.WaitSeconds, 1):
			c.breakOff("The catalyst has had all it may take today: let it cool, and use another check. " + a.Why)
			c.judge()
			return false
		case a.Seconds >= 2:
			return true
		}
		c.say("wait", 0, fmt.Sprintf("The catalyst has to cool for %.0f seconds. Leave everything plugged in.", math.Ceil(a.WaitSeconds)), false)
		if !c.wait(max(a.WaitSeconds, 1)) {
			return false
		}
	}
}

// one cuts one cylinder and puts it back; false when broken off.
func (c *cutRun) one(n engine.Cylinder) bool {
	before := c.meanSpeed(3)
	c.say("off", n, fmt.Sprintf("Cylinder %d: plug off now.", n), true)
	c.mark(n, false)
	c.book([]engine.Cylinder{n})
	if c.car != nil {
		c.act(c.car.cutOff(n))
	}
	c.phase("cut")
	whole := c.whole()
	began := c.clock()
	for c.clock()-began < whole {
		if !c.wait(0.1) {
			return false
		}
		c.mu.Lock()
		standing := c.ledger.During(c.at(c.now))
		c.state.Left = max(0, whole-(c.now-began))
		c.state.Seen = c.state.Seen || c.dropNow() > max(20, 0.03*before)
		c.mu.Unlock()
		if standing.Stop {
			c.say("on", n, fmt.Sprintf("Stop. Plug %d back on, now.", n), true)
			break
		}
	}
	c.say("on", n, fmt.Sprintf("Plug %d back on.", n), true)
	c.mark(n, true)
	if c.car != nil {
		c.act(c.car.putBack(n))
	}
	c.book(nil)
	c.mu.Lock()
	c.state.Drops = append(c.state.Drops, liveDrop{n, math.Round(before - c.lowest(began))})
	c.state.Seen = false
	c.mu.Unlock()
	return c.awake() && c.wait(restS)
}

func (c *cutRun) whole() float64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return max(2, min(cutS+handS, c.state.Whole))
}

// awake waits for a stalled engine to be started again.
func (c *cutRun) awake() bool {
	began := c.clock()
	told := false
	for c.meanSpeed(0.5) < stallRPM {
		if !told {
			told = true
			c.say("rest", 0, "It stalled. Plug everything in and start it again.", true)
			if c.car != nil {
				c.act(c.car.live.Do("start"))
			}
		}
		if c.clock()-began > patienceS {
			c.breakOff("The engine did not run again. Stopped.")
			return false
		}
		if !c.wait(0.5) {
			return false
		}
	}
	return true
}

func (c *cutRun) act(err error) {
	if err != nil {
		c.b.Log.Error("cut-out on the practice engine", "error", err)
	}
}

// wait lets seconds of the engine's clock pass; false when broken off.
func (c *cutRun) wait(seconds float64) bool {
	until := c.clock() + seconds
	deadline := time.Now().Add(time.Duration((seconds + patienceS) * float64(time.Second)))
	for c.clock() < until {
		select {
		case <-c.ctx.Done():
			return false
		case <-time.After(tickMillis * time.Millisecond):
		}
		if time.Now().After(deadline) {
			c.breakOff("Nothing is heard from the engine any more. Plug everything in.")
			return false
		}
		c.show()
	}
	return true
}

func (c *cutRun) clock() float64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// at is a second of the test on the books' clock.
func (c *cutRun) at(s float64) time.Time {
	return c.epoch.Add(time.Duration(s * float64(time.Second)))
}

func (c *cutRun) mark(n engine.Cylinder, on bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.marks = append(c.marks, cutout.Mark{At: c.now, On: on, Cylinders: []engine.Cylinder{n}})
}

func (c *cutRun) book(cut []engine.Cylinder) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.act(c.ledger.Set(c.at(c.now), c.way.condition(cut)))
}

// breakOff ends the test early, with words.
func (c *cutRun) breakOff(words string) {
	c.mu.Lock()
	if c.ended == "" {
		c.ended = words
	}
	c.mu.Unlock()
	c.say("broken", 0, words, true)
	c.cancel()
}

func (c *cutRun) end() {
	c.cancel()
	if c.car != nil {
		c.car.mu.Lock()
		c.car.watch = nil
		off := slices.Clone(c.car.cut)
		c.car.mu.Unlock()
		for _, n := range off {
			c.act(c.car.putBack(n))
		}
	}
	c.room.mu.Lock()
	if c.room.cut == c {
		c.room.cut = nil
	}
	c.room.mu.Unlock()
}

// listen gathers speed until the returned function is called.
func (c *cutRun) listen() func() {
	if c.car == nil {
		return c.listenToSound()
	}
	c.car.mu.Lock()
	defer c.car.mu.Unlock()
	c.car.watch = func(rec practice.Recording, _ practice.State) { c.saw(rec) }
	return func() {}
}

// saw takes what the practice engine's computer answered.
func (c *cutRun) saw(rec practice.Recording) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, v := range rec.Bus {
		switch v.Name {
		case "rpm":
			c.speed.T, c.speed.Y = append(c.speed.T, v.T), append(c.speed.Y, v.Value)
		case "air_g_s":
			c.air.T, c.air.Y = append(c.air.T, v.T), append(c.air.Y, v.Value)
		}
	}
	c.now = rec.End
}
