package script_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"halforder/engine"
	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/measure/cutout/script"
	"halforder/practice"
)

var noon = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

// bench is a practice engine, a technician who does what the script says, and
// the script, on a clock of its own.
type bench struct {
	t      testing.TB
	engine *practice.Engine
	layout engine.Layout
	script *script.Script
	rec    cutout.Recording
	said   []string
	todo   []deed // what the technician will do
	off    map[engine.Cylinder]bool

	deaf  int // prompts to pull that are not heard
	wrong map[int]engine.Cylinder
	stop  int // pull at which the engine stops
	pulls int
}

type deed struct {
	at float64
	do practice.Action
}

func newBench(t testing.TB, name string, faults ...string) *bench {
	l, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	cfg := practice.Defaults(l)
	for _, text := range faults {
		f, err := practice.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	e, err := practice.New(cfg, practice.Sensors{Bus: &practice.BusSensor{PerSecond: 20, Names: []string{"rpm"}}})
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{t: t, engine: e, layout: l, off: map[engine.Cylinder]bool{}, rec: cutout.Recording{Layout: l, Means: cutout.InjectorLive}}
	books, err := catalyst.New(l, catalyst.Careful)
	if err != nil {
		t.Fatal(err)
	}
	budget := &cutout.Budget{Ledger: books, Means: cutout.InjectorLive}
	if err := budget.Run(noon); err != nil {
		t.Fatal(err)
	}
	b.script, err = script.New(script.Setup{Layout: l, Plan: b.plan, Budget: budget, Means: cutout.InjectorLive})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// plan analyses what was recorded so far and asks what comes next.
func (b *bench) plan(marks []cutout.Mark) (cutout.Unit, bool, string) {
	units := cutout.Units(b.layout, false)
	done := cutout.DoneUnits(marks)
	var r cutout.Result
	if len(done) >= len(units) {
		b.rec.Marks = marks
		var err error
		if r, err = cutout.Analyse(b.rec); err != nil {
			b.t.Fatal(err)
		}
	}
	p := cutout.Next(r, units, done, 1)
	return p.Cut, !p.Done, p.Why
}

// run lets the session go on until the script has finished or time is up.
func (b *bench) run(limit float64) cutout.Result {
	const beat = 0.05
	for now := beat; now < limit && b.script.Phase() != script.Done && b.script.Phase() != script.Stopped; now += beat {
		for len(b.todo) > 0 && b.todo[0].at <= now {
			if err := b.engine.Do(b.todo[0].do); err != nil {
				b.t.Logf("%.1f s: %v", now, err)
			}
			b.todo = b.todo[1:]
		}
		b.engine.RunUntil(now)
		values := b.engine.Take().Bus
		if len(values) == 0 && now-b.last() > 1 { // the bus is silent: the ignition is off
			values = []practice.BusValue{{T: now}}
		}
		for _, v := range values {
			b.rec.Speed.T, b.rec.Speed.Y = append(b.rec.Speed.T, v.T), append(b.rec.Speed.Y, v.Value)
			for _, p := range b.script.Step(script.Sample{At: noon.Add(time.Duration(v.T * float64(time.Second))), RPM: v.Value}) {
				b.hear(now, p)
			}
		}
	}
	b.rec.Marks = b.script.Marks()
	for i := range b.rec.Marks { // marks count from the first sample
		b.rec.Marks[i].At += b.rec.Speed.T[0]
	}
	r, err := cutout.Analyse(b.rec)
	if err != nil {
		b.t.Fatal(err)
	}
	return r
}

func (b *bench) last() float64 {
	if n := len(b.rec.Speed.T); n > 0 {
		return b.rec.Speed.T[n-1]
	}
	return 0
}

// hear lets the technician react to a prompt, 0.9 s later.
func (b *bench) hear(now float64, p script.Prompt) {
	b.said = append(b.said, fmt.Sprintf("%.1f %s", now, p.Text))
	do := func(after float64, format string, args ...any) {
		b.todo = append(b.todo, deed{now + after, practice.Action(fmt.Sprintf(format, args...))})
	}
	back := func() {
		for c := range b.off {
			do(0.9, "reconnect injector %d", c)
			delete(b.off, c)
		}
	}
	switch {
	case strings.HasPrefix(p.Text, "Pull "):
		b.pulls++
		c := p.Cut[0]
		if other, ok := b.wrong[b.pulls]; ok {
			c = other
		}
		if b.deaf > 0 {
			b.deaf--
			return
		}
		b.off[c] = true
		do(0.9, "unplug injector %d", c)
		if b.pulls == b.stop {
			do(2, "stop")
		}
	case strings.Contains(p.Text, "It stopped"):
		back()
		do(3, "start")
	case strings.Contains(p.Text, "back on"):
		back()
	}
}

func (b *bench) spoke(text string) bool {
	return slices.ContainsFunc(b.said, func(s string) bool { return strings.Contains(s, text) })
}

func (b *bench) story() string { return "\n  " + strings.Join(b.said, "\n  ") }

// End to end, live: the script leads, a technician follows, the analysis names
// the dead cylinder, and the script ends by itself.
func TestSessionOnThePracticeEngine(t *testing.T) {
	b := newBench(t, "i4", "coil-open@3")
	r := b.run(400)
	if b.script.Phase() != script.Done {
		t.Fatalf("the session is in phase %s after 400 s%s", b.script.Phase(), b.story())
	}
	for _, c := range r.Cylinders {
		want := cutout.Works
		if c.Number == 3 {
			want = cutout.Dead
		}
		if c.Verdict != want {
			t.Errorf("cylinder %d: %s, want %s%s", c.Number, c.Verdict, want, b.story())
		}
	}
	if !b.spoke("no change") {
		t.Errorf("the dead cylinder's cut was not asked about%s", b.story())
	}
}

func TestMissedPullIsNotTakenForADeadCylinder(t *testing.T) {
	b := newBench(t, "i4")
	b.deaf = 1
	r := b.run(500)
	for _, c := range r.Cylinders {
		if c.Verdict == cutout.Dead || c.Verdict == cutout.Weak {
			t.Errorf("cylinder %d is called %s%s", c.Number, c.Verdict, b.story())
		}
	}
	if b.script.Phase() != script.Done {
		t.Errorf("phase %s%s", b.script.Phase(), b.story())
	}
}

func TestWrongPull(t *testing.T) {
	b := newBench(t, "i4", "coil-open@3")
	b.wrong = map[int]engine.Cylinder{2: 3}
	r := b.run(500)
	if b.script.Phase() != script.Done {
		t.Errorf("phase %s%s", b.script.Phase(), b.story())
	}
	for _, c := range r.Cylinders {
		if c.Number != 3 && (c.Verdict == cutout.Dead || c.Verdict == cutout.Weak) {
			t.Errorf("cylinder %d is called %s%s", c.Number, c.Verdict, b.story())
		}
	}
}

func TestStallIsLedThrough(t *testing.T) {
	b := newBench(t, "i4")
	b.stop = 2
	r := b.run(400)
	if !b.spoke("It stopped") {
		t.Fatalf("the practice engine kept running%s", b.story())
	}
	if !b.spoke("Running again") {
		t.Errorf("the session did not go on after the stall%s", b.story())
	}
	for _, c := range r.Cylinders {
		if c.Verdict == cutout.Dead || c.Verdict == cutout.Weak {
			t.Errorf("cylinder %d is called %s%s", c.Number, c.Verdict, b.story())
		}
	}
}

// A cut that never ends is spoken of again and again, then the engine is
// ordered off.
func TestHardStop(t *testing.T) {
	l, _ := engine.Parse("i4")
	plan := func([]cutout.Mark) (cutout.Unit, bool, string) { return cutout.Unit{2}, true, "" }
	books, _ := catalyst.New(l, catalyst.Careful)
	budget := &cutout.Budget{Ledger: books, Means: cutout.CoilLive}
	budget.Run(noon)
	s, err := script.New(script.Setup{Layout: l, Plan: plan, Budget: budget})
	if err != nil {
		t.Fatal(err)
	}
	var urgent int
	speed := 750.0
	for i := range 600 {
		at := noon.Add(time.Duration(i) * 100 * time.Millisecond)
		if s.Phase() == script.Pull {
			speed = 650
		}
		for _, p := range s.Step(script.Sample{At: at, RPM: speed}) {
			if p.Urgent {
				urgent++
			}
		}
	}
	if s.Phase() != script.Stopped || urgent < 2 {
		t.Errorf("phase %s after %d urgent prompts, want stopped", s.Phase(), urgent)
	}
}

func TestStreamThatNamesCorrectsTheCall(t *testing.T) {
	l, _ := engine.Parse("i4")
	calls := 0
	plan := func(m []cutout.Mark) (cutout.Unit, bool, string) { calls++; return cutout.Unit{2}, len(m) < 2, "" }
	s, _ := script.New(script.Setup{Layout: l, Plan: plan})
	var said []string
	for i := range 300 {
		in := script.Sample{At: noon.Add(time.Duration(i) * 100 * time.Millisecond), RPM: 750}
		if s.Phase() == script.Pull {
			in.Named = 4
		}
		for _, p := range s.Step(in) {
			said = append(said, p.Text)
		}
	}
	if m := s.Marks(); len(m) == 0 || m[0].Cylinders[0] != 4 {
		t.Errorf("marks %+v, want the cut written down as cylinder 4; %q", m, said)
	}
	if !strings.Contains(strings.Join(said, " "), "That was 4, not 2") {
		t.Errorf("nothing was said of the mistake: %q", said)
	}
}

func TestRefusals(t *testing.T) {
	if _, err := script.New(script.Setup{}); err == nil {
		t.Error("a script without an engine was accepted")
	}
	l, _ := engine.Parse("i4")
	if _, err := script.New(script.Setup{Layout: l}); err == nil {
		t.Error("a script without a plan was accepted")
	}
}
