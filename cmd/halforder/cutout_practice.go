package main

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"time"

	"halforder/engine"
	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/measure/cutout/script"
	"halforder/practice"
	"halforder/report"
)

type cutoutPracticeCmd struct {
	Engine engine.Layout `default:"i4" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order."`
	Seed   uint64        `default:"1" help:"The same seed gives the same engine and the same hidden fault."`
	Fault  []string      `sep:"none" placeholder:"FAULT" help:"What is wrong, instead of a hidden fault: see practice faults."`
	Means  string        `default:"injector" enum:"injector,coil-live" help:"What is unplugged: injector or coil-live."`
	Speed  float64       `default:"1" help:"How many times faster than real time; 0: as fast as it goes."`
	Auto   bool          `help:"A technician who does what the voice says works by himself."`
	Limit  float64       `default:"600" help:"Longest session, s of engine time."`
	Job    int64         `placeholder:"NUMBER" help:"A job opened for practice: go on with its catalyst books, put the result on its card."`
	JSON   bool          `help:"Print the result as JSON; the course goes to standard error."`
}

func (c *cutoutPracticeCmd) Help() string {
	return `The voice says what to do; type what you do:

  off 3     pull the connector of cylinder 3     on 3     put it back
  start     start the engine                     stop     switch it off
  ok        or an empty line: done               quit     end the session

  halforder cutout practice --engine i6 --seed 4
  halforder cutout practice --auto --speed 0`
}

func (c *cutoutPracticeCmd) Run(r *run) error {
	if c.Job != 0 {
		return c.onCard(r)
	}
	books, err := catalyst.New(c.Engine, catalyst.Careful)
	if err != nil {
		return badInput(err)
	}
	_, err = c.session(r, books, clockZero)
	return err
}

// session runs one test with these books, from a moment on.
func (c *cutoutPracticeCmd) session(r *run, books *catalyst.Ledger, from time.Time) (*session, error) {
	s, err := newSession(c, r, books, from)
	if err != nil {
		return nil, badInput(err)
	}
	if err := s.play(); err != nil {
		return nil, err
	}
	s.budget.Switched(s.clock())
	return s, s.close()
}

// session is one live cut-out test on a practice engine.
type session struct {
	*cutoutPracticeCmd
	run    *run
	out    io.Writer
	engine *practice.Engine
	faults []practice.Fault
	script *script.Script
	budget *cutout.Budget
	zero   time.Time // the moment of engine second 0
	rec    cutout.Recording
	result cutout.Result

	now    float64 // engine seconds
	silent float64 // seconds without an answer of the bus
	part   string  // what is unplugged: injector or coil
	off    map[engine.Cylinder]bool
	todo   []deed
	tapped bool
	status float64 // when the last status line was printed
}

// deed is what the technician of --auto is about to do.
type deed struct {
	at float64
	do practice.Action
}

// clockZero is the first moment of a session that belongs to no job: the clock
// of the engine counts, not the wall's.
var clockZero = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

func (s *session) clock() time.Time {
	return s.zero.Add(time.Duration(s.now * float64(time.Second)))
}

func newSession(c *cutoutPracticeCmd, r *run, books *catalyst.Ledger, from time.Time) (*session, error) {
	if !(c.Speed >= 0 && c.Speed <= 1000) || !(c.Limit > 0 && c.Limit <= 7200) {
		return nil, fmt.Errorf("--speed %g or --limit %g: expected 0 to 1000 and up to 7200", c.Speed, c.Limit)
	}
	s := &session{cutoutPracticeCmd: c, run: r, out: r.Stdout, zero: from, part: "injector", off: map[engine.Cylinder]bool{}}
	if c.JSON {
		s.out = r.Stderr
	}
	means := cutout.Means(c.Means)
	if means.Spark() {
		s.part = "coil"
	}
	s.rec = cutout.Recording{Layout: c.Engine, Means: means}
	if err := s.build(); err != nil {
		return nil, err
	}
	s.budget = &cutout.Budget{Ledger: books, Means: means}
	if err := s.budget.Run(s.clock()); err != nil {
		return nil, err
	}
	var err error
	s.script, err = script.New(script.Setup{Layout: c.Engine, Plan: s.plan, Budget: s.budget, Means: means})
	return s, err
}

// hiddenFaults are what a session without --fault may have: they show at idle.
var hiddenFaults = []string{"coil-open@%d", "injector-dead@%d", "injector-clogged@%d:0.6", "exhaust-valve-leak@%d:0.8", ""}

func (s *session) build() error {
	cfg := practice.Defaults(s.Engine)
	cfg.Seed = s.Seed
	texts := s.Fault
	if len(texts) == 0 {
		rng := rand.New(rand.NewPCG(s.Seed, 0x5e55))
		if f := hiddenFaults[rng.IntN(len(hiddenFaults))]; f != "" {
			texts = []string{fmt.Sprintf(f, 1+rng.IntN(s.Engine.N()))}
		}
	}
	for _, text := range texts {
		f, err := practice.ParseFault(text)
		if err != nil {
			return err
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	s.faults = cfg.Faults
	var err error
	s.engine, err = practice.New(cfg, practice.Sensors{Bus: &practice.BusSensor{PerSecond: 30, Names: []string{"rpm", "air_g_s", "advance_deg"}}})
	return err
}

// plan analyses the test so far and says what comes next.
func (s *session) plan(marks []cutout.Mark) (cutout.Unit, bool, string) {
	units, done := cutout.Units(s.Engine, false), cutout.DoneUnits(marks)
	if len(done) >= len(units) {
		s.analyse(marks)
	}
	p := cutout.Next(s.result, units, done, s.Seed)
	return p.Cut, !p.Done, p.Why
}

// analyse keeps the last result when the recording cannot be read yet.
func (s *session) analyse(marks []cutout.Mark) error {
	rec := s.rec
	rec.Marks = nil
	for _, m := range marks { // the script counts from the first sample
		m.At += rec.Speed.T[0]
		rec.Marks = append(rec.Marks, m)
	}
	result, err := cutout.Analyse(rec)
	if err == nil {
		s.result = result
	}
	return err
}

const beat = 0.05 // s of engine time between two looks

// play runs the session until the script or the technician ends it.
func (s *session) play() error {
	lines := s.typed()
	_ = report.Line(s.out, 0, fmt.Sprintf("Practice engine, %s. Simulated: nothing here can hurt, on a real car the cautions of 'cutout how' hold.", s.Engine.Title()))
	for s.now < s.Limit && !s.over() {
		select {
		case <-s.run.Done():
			return nil
		case line, ok := <-lines:
			if !ok {
				lines = nil
			} else if quit := s.do(line); quit {
				return nil
			}
		default:
		}
		if s.Speed > 0 {
			time.Sleep(time.Duration(beat / s.Speed * float64(time.Second)))
		}
		s.step()
	}
	return nil
}

func (s *session) over() bool {
	return s.script.Phase() == script.Done || s.script.Phase() == script.Stopped
}

// typed delivers the lines of standard input; none with --auto.
func (s *session) typed() <-chan string {
	if s.Auto {
		return nil
	}
	lines := make(chan string)
	go func() {
		defer close(lines)
		for scan := bufio.NewScanner(s.run.Stdin); scan.Scan(); {
			select {
			case lines <- scan.Text():
			case <-s.run.Done():
				return
			}
		}
	}()
	return lines
}

// do carries out what was typed; quit ends the session.
func (s *session) do(line string) (quit bool) {
	words := strings.Fields(line)
	var action string
	switch {
	case len(words) == 0 || words[0] == "ok":
		s.tapped = true
		return false
	case words[0] == "quit":
		return true
	case words[0] == "off" && len(words) == 2:
		action = "unplug " + s.part + " " + words[1]
	case words[0] == "on" && len(words) == 2:
		action = "reconnect " + s.part + " " + words[1]
	default:
		action = strings.Join(words, " ")
	}
	if err := s.engine.Do(practice.Action(action)); err != nil {
		fmt.Fprintln(s.run.Stderr, err)
	}
	return false
}

// step lets a beat of engine time pass.
func (s *session) step() {
	for len(s.todo) > 0 && s.todo[0].at <= s.now {
		if err := s.engine.Do(s.todo[0].do); err != nil {
			fmt.Fprintln(s.run.Stderr, err)
		}
		s.todo = s.todo[1:]
	}
	s.engine.RunUntil(s.now + beat)
	s.now += beat
	s.silent += beat
	for _, v := range s.engine.Take().Bus {
		s.take(v)
	}
	if s.silent > 1 { // the bus is dumb with the ignition off
		s.listen(0)
	}
	s.showStatus()
}

func (s *session) take(v practice.BusValue) {
	s.silent = 0
	switch v.Name {
	case "rpm":
		s.rec.Speed.T, s.rec.Speed.Y = append(s.rec.Speed.T, v.T), append(s.rec.Speed.Y, v.Value)
		s.listen(v.Value)
	default:
		s.effort(v)
	}
}

func (s *session) effort(v practice.BusValue) {
	for i := range s.rec.Efforts {
		if e := &s.rec.Efforts[i]; e.Name == v.Name {
			e.T, e.Y = append(e.T, v.T), append(e.Y, v.Value)
			return
		}
	}
	s.rec.Efforts = append(s.rec.Efforts, cutout.Effort{Name: v.Name, Track: cutout.Track{T: []float64{v.T}, Y: []float64{v.Value}}})
}

// listen hands the speed to the script and says what it answers.
func (s *session) listen(rpm float64) {
	for _, p := range s.script.Step(script.Sample{At: s.clock(), RPM: rpm, Tap: s.tapped}) {
		mark := "»"
		if p.Urgent {
			mark = "»!"
		}
		_ = report.Line(s.out, 0, fmt.Sprintf("%.1f s %s %s", s.now, mark, p.Text))
		if s.Auto {
			s.obey(p)
		}
	}
	s.tapped = false
}

// obey is the technician of --auto: nine tenths of a second after each prompt.
func (s *session) obey(p script.Prompt) {
	later := func(after float64, format string, args ...any) {
		s.todo = append(s.todo, deed{s.now + after, practice.Action(fmt.Sprintf(format, args...))})
	}
	stopped := strings.Contains(p.Text, "stopped")
	switch {
	case strings.HasPrefix(p.Text, "Pull ") && len(p.Cut) > 0:
		for _, c := range p.Cut {
			s.off[c] = true
			later(0.9, "unplug %s %d", s.part, c)
		}
	case strings.Contains(p.Text, "back on"), stopped:
		for c := range s.off {
			later(0.9, "reconnect %s %d", s.part, c)
			delete(s.off, c)
		}
		if stopped {
			later(3, "start")
		}
	}
}

// showStatus prints speed, phase and the catalyst's budget every two seconds of
// a session that runs at a readable pace.
func (s *session) showStatus() {
	if s.Speed == 0 || s.Speed > 4 || s.now-s.status < 2 {
		return
	}
	s.status = s.now
	b := s.budget.Ledger.During(s.clock())
	left := fmt.Sprintf("%.0f s of spark cut left today", b.SparkLeft)
	if s.script.Phase() == script.Hold || s.script.Phase() == script.Back {
		left = fmt.Sprintf("%.0f s left of this cut", b.HardLeft)
	}
	rpm := 0.0
	if n := len(s.rec.Speed.Y); n > 0 {
		rpm = s.rec.Speed.Y[n-1]
	}
	fmt.Fprintf(s.out, "%6.1f s    %4.0f rpm  %-8s %s\n", s.now, rpm, s.script.Phase(), left)
}

// close prints what the test showed, and the truth.
func (s *session) close() error {
	if len(s.rec.Speed.T) == 0 {
		return recordingError{fmt.Errorf("the engine never ran")}
	}
	if err := s.analyse(s.script.Marks()); err != nil {
		return recordingError{err}
	}
	if s.JSON {
		return s.run.printJSON(cutoutJSON{Finding: s.result.Finding(), IdleRPM: s.result.IdleRPM, Cuts: s.result.Cuts, Cylinders: s.result.Cylinders, Sets: s.result.Sets, Next: cutout.Proposal{Done: true}})
	}
	fmt.Fprintln(s.out)
	printCutout(s.run, s.result, cutout.Proposal{Done: true})
	var truth []string
	for _, f := range s.faults {
		truth = append(truth, f.String())
	}
	if len(truth) == 0 {
		truth = []string{"nothing is wrong with this engine"}
	}
	fmt.Fprintf(s.out, "Truth: %s.\n", strings.Join(truth, ", "))
	return nil
}
