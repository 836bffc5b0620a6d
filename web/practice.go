package web

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"halforder/engine"
	"halforder/job"
	"halforder/practice"
	"halforder/reason/fault"
	"halforder/web/guard"
	"halforder/web/take"
)

// practiceRate is the sample rate of the practice engine's sound, in hertz.
const practiceRate = 16000

// scenario is what a practice job is about; it is kept beside the store, so
// that the engine is the same after a restart, and never shown.
type scenario struct {
	Engine engine.Layout `json:"engine"`
	Seed   uint64        `json:"seed"`
	Faults []string      `json:"faults"`
	Words  string        `json:"words"`
}

// practiceEngines and practiceFaults are what a practice job is drawn from:
// faults that show at warm idle, where a beginner begins.
var (
	practiceEngines = []string{"i4", "i4", "i3", "i6", "v6-142536", "flat4"}
	practiceFaults  = []string{"coil-open@%d", "coil-open@%d", "plug-fouled@%d", "boot-leak@%d", "injector-dead@%d", "coil-wiring@%d", "exhaust-valve-leak@%d", "injector-clogged@%d"}
)

func drawScenario() (scenario, error) {
	var dice [4]uint64
	if err := binary.Read(rand.Reader, binary.LittleEndian, &dice); err != nil {
		return scenario{}, err
	}
	layout, err := engine.Parse(practiceEngines[dice[0]%uint64(len(practiceEngines))])
	if err != nil {
		return scenario{}, err
	}
	at := layout.Cylinders()[dice[1]%uint64(layout.N())]
	return scenario{Engine: layout, Seed: dice[3], Words: "shakes at the lights, the lamp came on",
		Faults: []string{fmt.Sprintf(practiceFaults[dice[2]%uint64(len(practiceFaults))], at)}}, nil
}

// runningScenario draws until the engine idles: some faults stall some engines.
func runningScenario() (scenario, *practice.Engine, error) {
	var last error
	for range 30 {
		s, err := drawScenario()
		if err != nil {
			return s, nil, err
		}
		e, err := s.build()
		if err == nil {
			return s, e, nil
		}
		last = err
	}
	return scenario{}, nil, last
}

func (s scenario) build() (*practice.Engine, error) {
	cfg := practice.Defaults(s.Engine)
	cfg.Seed = s.Seed
	for _, text := range s.Faults {
		f, err := practice.ParseFault(text)
		if err != nil {
			return nil, err
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	return practice.New(cfg, practice.Sensors{Sound: &practice.SoundSensor{Hz: practiceRate},
		Bus: &practice.BusSensor{PerSecond: 40, Names: []string{"rpm", "air_g_s"}}})
}

// practiceCar is a practice engine that belongs to a job.
type practiceCar struct {
	room  *room
	live  *practice.Live
	stops context.CancelFunc
	first fault.Seating

	mu      sync.Mutex
	seating fault.Seating // where the engine's parts sit
	cut     []engine.Cylinder
	take    *take.Take
	next    take.Chunk
	begin   float64 // engine seconds at which the take began
	ear     *ear
	heard   uint64
	watch   func(practice.Recording, practice.State) // of a cut-out under way
	busy    sync.Mutex                               // one change of parts at a time
}

func (b *Bench) scenarioFile(id job.ID) string {
	return filepath.Join(b.Dir, "practice", fmt.Sprintf("%d.json", id))
}

// isPractice reports whether a job has a practice engine.
func (r *rooms) isPractice(id job.ID) bool {
	_, err := os.Stat(r.b.scenarioFile(id))
	return err == nil
}

func (b *Bench) newPractice(w http.ResponseWriter, r *http.Request) error {
	s, engine, err := runningScenario()
	if err != nil {
		return err
	}
	session, _ := guard.Of(r)
	card, err := b.openPractice(r.Context(), session.Name, s)
	if err != nil {
		return err
	}
	room := b.live.of(card.ID)
	room.mu.Lock()
	err = room.run(engine, s, card)
	room.mu.Unlock()
	if err != nil {
		return err
	}
	http.Redirect(w, r, fmt.Sprintf("/jobs/%d/listen", card.ID), http.StatusSeeOther)
	return nil
}

func (b *Bench) openPractice(ctx context.Context, by string, s scenario) (*job.Card, error) {
	card, err := b.book.Open(ctx, by, job.Opened{Car: "Practice engine, no car", Engine: s.Engine, Ignition: fault.CoilOnPlug, Injection: fault.Port,
		Access: fault.Easy, Complaint: fault.Rough, Regime: fault.Idle, Words: s.Words, Lamp: job.LampSteady, Practice: true})
	if err != nil {
		return nil, err
	}
	data, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	file := b.scenarioFile(card.ID)
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return nil, err
	}
	if err := os.WriteFile(file, data, 0o600); err != nil {
		return nil, err
	}
	return b.book.Add(ctx, card.ID, by, &job.Numbered{Engine: s.Engine})
}

// carOf gives the practice engine of a job, built when first asked for.
func (b *Bench) carOf(card *job.Card) (*practiceCar, error) {
	room := b.live.of(card.ID)
	room.mu.Lock()
	defer room.mu.Unlock()
	if room.car != nil {
		return room.car, nil
	}
	data, err := os.ReadFile(b.scenarioFile(card.ID))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, badInput(errPracticeOnly)
	}
	if err != nil {
		return nil, err
	}
	var s scenario
	if err := json.Unmarshal(data, &s); err != nil {
		return nil, fmt.Errorf("practice engine of job %d: %w", card.ID, err)
	}
	engine, err := s.build()
	if err != nil {
		return nil, err
	}
	err = room.run(engine, s, card)
	return room.car, err
}

// run puts an engine into the room, whose lock the caller holds.
func (r *room) run(e *practice.Engine, s scenario, card *job.Card) error {
	live, err := practice.NewLive(e, r.all.b.PracticeSpeed)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(context.Background())
	first := fault.FirstSeating(s.Engine, card.Opened.Ignition, card.Opened.Injection)
	car := &practiceCar{room: r, live: live, stops: cancel, first: first, seating: first}
	car.ear = newEar(r, "practice", s.Engine, practiceRate)
	r.car = car
	go live.Run(ctx, beats(ctx, max(r.all.b.PracticeSpeed, 1)), car.saw)
	go car.arrange(card)
	return nil
}

// largestStep of a practice engine at once, in engine seconds. A hand at the
// plugs acts between steps; on a busy machine the engine runs slower rather
// than in leaps that the hand would miss.
const largestStep = 0.1

// beats is a clock for a practice engine that runs factor times as fast.
func beats(ctx context.Context, factor float64) <-chan time.Time {
	out := make(chan time.Time)
	most := time.Duration(largestStep / factor * float64(time.Second))
	go func() {
		tick := time.NewTicker(most / 2)
		defer tick.Stop()
		last := time.Now()
		shown := last
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			now := time.Now()
			shown = shown.Add(min(now.Sub(last), most))
			last = now
			select {
			case <-ctx.Done():
				return
			case out <- shown:
			}
		}
	}()
	return out
}

func (c *practiceCar) stop() { c.stops(); c.ear.close() }

// dash is what a practice engine shows on its dashboard.
type dash struct {
	RPM      float64           `json:"rpm"`
	Running  bool              `json:"running"`
	Lamp     practice.Lamp     `json:"lamp"`
	Catalyst []float64         `json:"catalyst_c"`
	Cut      []engine.Cylinder `json:"cut"`
	Taking   bool              `json:"taking"`
	Seconds  float64           `json:"seconds"`
}

// saw takes what the engine's sensors gave in the last twentieth of a second.
func (c *practiceCar) saw(rec practice.Recording, state practice.State) {
	c.mu.Lock()
	d := dash{RPM: float64(state.RPM), Running: state.Running, Lamp: state.Lamp, Catalyst: state.CatalystC, Cut: slices.Clone(c.cut), Taking: c.take != nil}
	watch := c.watch
	if state.Running {
		c.heard += uint64(len(rec.Sound.X))
		c.ear.hear(rec.Sound.X, c.heard, false)
	}
	if c.take != nil {
		c.keep(rec.Sound.X)
		d.Seconds = c.take.Seconds()
	}
	c.mu.Unlock()
	if watch != nil {
		watch(rec, state)
	}
	c.room.sayOften("car", d)
}

// keep adds sound to the take under way, a tenth of a second at a time.
func (c *practiceCar) keep(x []float32) {
	c.next.Data = append(c.next.Data, take.PCM(x)...)
	if len(c.next.Data) < 2*practiceRate/10 {
		return
	}
	if _, _, err := c.take.Append(c.next); err != nil {
		c.room.all.b.Log.Error("practice recording", "error", err)
		return
	}
	c.next = take.Chunk{Seq: c.next.Seq + 1, First: c.next.First + uint64(len(c.next.Data)/2)}
}

// follow moves the engine's parts to where the card has them. Parts are moved
// with the engine off, so this takes a few seconds.
func (c *practiceCar) follow(card *job.Card) {
	c.mu.Lock()
	same := c.seating.Equal(card.Seating)
	c.mu.Unlock()
	if !same {
		go c.arrange(card)
	}
}

func (c *practiceCar) arrange(card *job.Card) {
	c.busy.Lock()
	defer c.busy.Unlock()
	c.mu.Lock()
	same := c.seating.Equal(card.Seating)
	c.mu.Unlock()
	if same {
		return
	}
	running := c.live.State().Running
	if running {
		c.live.Do("stop")
		for range 60 {
			if !c.live.State().Running && c.live.State().RPM < 1 {
				break
			}
			time.Sleep(100 * time.Millisecond)
		}
	}
	for _, a := range c.moves(card) {
		if err := c.live.Do(a); err != nil {
			c.room.all.b.Log.Error("practice engine", "action", a, "error", err)
		}
	}
	if running {
		c.live.Do("start")
	}
}

// moves lists the swaps and renewals that bring the engine to the card's
// seating, and notes them as done.
func (c *practiceCar) moves(card *job.Card) []practice.Action {
	c.mu.Lock()
	defer c.mu.Unlock()
	var out []practice.Action
	for kind := range card.Seating {
		for _, at := range card.Layout().Cylinders() {
			want := card.Seating.At(kind, at)
			if want == c.seating.At(kind, at) {
				continue
			}
			if from, here := placeOf(c.seating, kind, want); here {
				out = append(out, practice.Action(fmt.Sprintf("swap %s %d %d", kind, at, from)))
				if s, err := c.seating.Swapped(kind, at, from); err == nil {
					c.seating = s
				}
				continue
			}
			out = append(out, practice.Action(fmt.Sprintf("renew %s %d", kind, at)))
			if s, err := c.seating.Renewed(kind, at, want); err == nil {
				c.seating = s
			}
		}
	}
	return out
}

// cutOff and putBack part and join the injector of a cylinder.
func (c *practiceCar) cutOff(n engine.Cylinder) error {
	if err := c.live.Do(practice.Action(fmt.Sprintf("unplug injector %d", n))); err != nil {
		return err
	}
	c.mu.Lock()
	c.cut = append(c.cut, n)
	c.mu.Unlock()
	return nil
}

func (c *practiceCar) putBack(n engine.Cylinder) error {
	c.mu.Lock()
	c.cut = slices.DeleteFunc(c.cut, func(x engine.Cylinder) bool { return x == n })
	c.mu.Unlock()
	return c.live.Do(practice.Action(fmt.Sprintf("reconnect injector %d", n)))
}
