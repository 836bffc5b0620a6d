package web

import (
	"context"
	"math"
	"slices"
	"sync"
	"time"

	"halforder/engine"
	"halforder/job"
	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/measure/cutout/script"
	"halforder/practice"
)

// cutRun is one hands-free cut-out test under way: it feeds the script with what
// is heard, hands on what it says, and keeps what was gathered.
type cutRun struct {
	b      *Bench
	room   *room
	card   *job.Card
	by     string
	means  cutout.Means
	car    *practiceCar // nil: a person cuts, a phone listens
	ctx    context.Context
	cancel context.CancelFunc
	epoch  time.Time // of second 0 of the tracks
	units  []cutout.Unit

	mu     sync.Mutex
	script *script.Script
	books  *books
	now    float64 // s, of the newest sample
	start  float64 // s, of the first sample: the script's marks count from it
	began  bool
	speed  cutout.Track
	air    cutout.Track
	rough  cutout.Track
	state  cutState
	from   float64 // speed before the running cut
	hand   []handwork
	over   bool
}

// cutState is what the page shows.
type cutState struct {
	Phase  script.Phase      `json:"phase"`
	Words  string            `json:"words"`
	Cut    []engine.Cylinder `json:"cut,omitempty"`
	Count  int               `json:"count"` // cuts made
	Of     int               `json:"of"`
	RPM    float64           `json:"rpm"`
	Left   float64           `json:"left_s"`  // to the end of this cut, whatever else
	Whole  float64           `json:"whole_s"` // that it may last
	Budget float64           `json:"budget"`  // catalyst heat left, 0 to 1
	Seen   bool              `json:"seen"`    // the drop was seen
	Drops  []liveDrop        `json:"drops"`
	Entry  int64             `json:"entry,omitempty"`
	Ended  string            `json:"ended,omitempty"` // "done" or "broken"
}

// liveDrop is what a cut showed at once; the judgement comes at the end.
type liveDrop struct {
	Cylinders []engine.Cylinder `json:"cylinders"`
	RPM       float64           `json:"rpm"` // lost at most within the cut
}

// handwork is what a practice hand will do in a moment.
type handwork struct {
	at float64 // s
	do func() error
}

// handSeconds is how long a practised hand takes from the word to the plug.
const handSeconds = 1.2

func (b *Bench) newCutRun(room *room, card *job.Card, means cutout.Means, by string) (*cutRun, error) {
	ledger, err := catalyst.New(card.Layout(), catalyst.Careful)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	c := &cutRun{b: b, room: room, card: card, by: by, means: means, ctx: ctx, cancel: cancel, epoch: b.Now(),
		units: cutout.Units(card.Layout(), false), books: &books{Budget: cutout.Budget{Ledger: ledger, Means: means}}}
	c.state.Of = len(c.units)
	c.script, err = script.New(script.Setup{Layout: card.Layout(), Plan: c.plan, Budget: c.books, Means: means})
	if err == nil {
		err = c.source()
	}
	if err != nil {
		cancel()
		return nil, badInput(err)
	}
	return c, nil
}

// source says what is wrong with what would be listened to.
func (c *cutRun) source() (err error) {
	if !c.b.live.isPractice(c.card.ID) {
		if c.b.soundTake(c.card.ID) == nil {
			return wrong(422, "nothing is heard yet: start a recording on the phone that lies on the engine, or on this device under “Listen”")
		}
		return nil
	}
	if c.car, err = c.b.carOf(c.card); err == nil && !c.car.live.State().Running {
		err = wrong(422, "start the practice engine first")
	}
	return err
}

// books are the catalyst's say, with what the page shows of it.
type books struct {
	cutout.Budget
	hard  float64
	began time.Time
}

// Before says how long a cut may last from now.
func (b *books) Before(at time.Time, cut []engine.Cylinder) (seconds, hard, wait float64, why string) {
	seconds, hard, wait, why = b.Budget.Before(at, cut)
	b.hard = hard
	return seconds, hard, wait, why
}

// Begin books a cut.
func (b *books) Begin(at time.Time, cut []engine.Cylinder) {
	b.began = at
	b.Budget.Begin(at, cut)
}

// plan chooses the next cut by what was gathered so far; the script calls it
// while the run holds its lock.
func (c *cutRun) plan(marks []cutout.Mark) (cutout.Unit, bool, string) {
	var done []cutout.Unit
	for _, m := range marks {
		if !m.On {
			done = append(done, m.Cylinders)
		}
	}
	result, err := cutout.Analyse(c.recording(marks))
	if err != nil {
		result = cutout.Result{Layout: c.card.Layout()}
	}
	p := cutout.Next(result, c.units, done, uint64(c.epoch.UnixNano()))
	c.state.Count = len(done)
	c.state.Of = max(c.state.Of, len(done)+1)
	if p.Done {
		c.state.Of = len(done)
	}
	return p.Cut, !p.Done, p.Why
}

// run lasts until the script is done, or somebody stops it.
func (c *cutRun) run() {
	defer c.end()
	if c.car != nil {
		c.car.mu.Lock()
		c.car.watch = func(rec practice.Recording, state practice.State) { c.sawBus(rec, state) }
		c.car.mu.Unlock()
		<-c.ctx.Done()
		return
	}
	c.listenToSound()
}

// step gives the script its next sample.
func (c *cutRun) step(at, rpm, rough float64) {
	c.mu.Lock()
	if c.over || c.began && at <= c.now {
		c.mu.Unlock()
		return
	}
	if !c.began {
		c.began, c.start = true, at
		_ = c.books.Run(c.at(at))
	}
	c.now = at
	before := c.script.Phase()
	prompts := c.script.Step(script.Sample{At: c.at(at), RPM: rpm, Rough: rough})
	phase := c.script.Phase()
	c.note(before, phase, rpm)
	c.speak(prompts)
	work := c.handwork()
	finished := phase == script.Done || phase == script.Stopped
	news := len(prompts) > 0 || phase != before
	c.over = finished
	c.mu.Unlock()
	for _, w := range work {
		c.act(w.do())
	}
	c.show(news)
	if finished {
		go c.judge(phase)
	}
}

// at is a second of the tracks on the books' clock.
func (c *cutRun) at(s float64) time.Time {
	return c.epoch.Add(time.Duration(s * float64(time.Second)))
}

// note keeps the page's state, and has the practice hand follow the script.
func (c *cutRun) note(before, now script.Phase, rpm float64) {
	s := &c.state
	s.Phase, s.RPM, s.Cut = now, math.Round(rpm), c.script.Cutting()
	s.Seen = now == script.Hold && !c.unseen() || now == script.Pull && rpm < c.from-max(20, 0.03*c.from)
	if now == script.Hold || now == script.Back {
		s.Whole = c.books.hard
		s.Left = max(0, c.books.hard-c.at(c.now).Sub(c.books.began).Seconds())
	} else {
		s.Whole, s.Left = c.books.hard, c.books.hard
	}
	if before == now {
		return
	}
	cut := slices.Clone(s.Cut)
	switch now {
	case script.Pull:
		c.from = meanSince(c.speed.T, c.speed.Y, c.now-3)
		c.byHand(cut, false)
	case script.Back:
		c.byHand(cut, true)
	case script.Restart:
		c.byHand(nil, true)
		if c.car != nil {
			c.hand = append(c.hand, handwork{c.now + 2*handSeconds, func() error { return c.car.live.Do("start") }})
		}
	}
	if before == script.Back || before == script.Hold && now == script.Restart {
		c.dropped()
	}
}

func (c *cutRun) unseen() bool {
	marks := c.script.Marks()
	return len(marks) > 0 && marks[len(marks)-1].Unsure
}

// dropped writes down what the last cut showed.
func (c *cutRun) dropped() {
	marks := c.script.Marks()
	for i := len(marks) - 1; i >= 0; i-- {
		if !marks[i].On {
			from := c.start + marks[i].At
			c.state.Drops = append(c.state.Drops, liveDrop{marks[i].Cylinders, math.Round(max(0, c.from-lowest(c.speed, from)))})
			return
		}
	}
}

// byHand tells the practice hand to part or join injector plugs; nil joins all.
func (c *cutRun) byHand(cut []engine.Cylinder, on bool) {
	if c.car == nil {
		return
	}
	c.hand = append(c.hand, handwork{c.now + handSeconds, func() error {
		if cut == nil {
			c.car.mu.Lock()
			cut = slices.Clone(c.car.cut)
			c.car.mu.Unlock()
		}
		for _, n := range cut {
			do := c.car.cutOff
			if on {
				do = c.car.putBack
			}
			if err := do(n); err != nil {
				return err
			}
		}
		return nil
	}})
}

// handwork gives what is due.
func (c *cutRun) handwork() (due []handwork) {
	c.hand = slices.DeleteFunc(c.hand, func(w handwork) bool {
		if w.at <= c.now {
			due = append(due, w)
		}
		return w.at <= c.now
	})
	return due
}

func (c *cutRun) act(err error) {
	if err != nil {
		c.b.Log.Error("cut-out on the practice engine", "error", err)
	}
}

// breakOff ends the test early. What was measured is judged if it is enough.
func (c *cutRun) breakOff() {
	c.mu.Lock()
	was := c.over
	c.over = true
	c.mu.Unlock()
	if !was {
		c.judge(script.Stopped)
	}
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

// sawBus takes what the practice engine's computer answered. It is called while
// the engine's clock stands.
func (c *cutRun) sawBus(rec practice.Recording, state practice.State) {
	type sample struct{ t, rpm float64 }
	var fresh []sample
	c.mu.Lock()
	for _, v := range rec.Bus {
		switch v.Name {
		case "rpm":
			c.speed.T, c.speed.Y = append(c.speed.T, v.T), append(c.speed.Y, v.Value)
			fresh = append(fresh, sample{v.T, v.Value})
		case "air_g_s":
			c.air.T, c.air.Y = append(c.air.T, v.T), append(c.air.Y, v.Value)
		}
	}
	c.mu.Unlock()
	if len(fresh) == 0 && !state.Running {
		fresh = append(fresh, sample{rec.End, float64(state.RPM)})
	}
	for _, s := range fresh {
		c.step(s.t, s.rpm, 0)
	}
}
