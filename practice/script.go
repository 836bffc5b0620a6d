package practice

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Script is what is done to the engine and for how long it is watched.
type Script struct {
	Steps  []Step
	Length float64 // s
}

// Step is one action at a time.
type Step struct {
	At float64 // s
	Do Action
}

// Watch is a script that only watches for so many seconds.
func Watch(seconds float64) Script { return Script{Length: seconds} }

// Then adds a step.
func (s Script) Then(at float64, do Action) Script {
	s.Steps = append(append([]Step(nil), s.Steps...), Step{at, do})
	s.Length = max(s.Length, at)
	return s
}

// ParseScript reads a script: one step a line, seconds first, then the action
// (see Action); "end" closes it. Blank lines and lines that begin with # do
// not count.
//
//	0    start
//	20   unplug coil 3
//	25   reconnect coil 3
//	60   end
func ParseScript(text string) (Script, error) {
	var s Script
	ended := false
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		at, action, err := parseStep(line)
		if err != nil {
			return s, fmt.Errorf("script line %d: %w", i+1, err)
		}
		if ended {
			return s, fmt.Errorf("script line %d: nothing may follow end", i+1)
		}
		if at < s.Length {
			return s, fmt.Errorf("script line %d: time %g s runs backwards, the line before was at %g s", i+1, at, s.Length)
		}
		s.Length, ended = at, action == "end"
		if !ended {
			s.Steps = append(s.Steps, Step{at, action})
		}
	}
	if !ended {
		return s, fmt.Errorf("script: the last line must say when it ends, for instance \"60 end\"")
	}
	return s, s.check()
}

func parseStep(line string) (float64, Action, error) {
	first, rest, _ := strings.Cut(strings.ReplaceAll(line, "\t", " "), " ")
	at, err := strconv.ParseFloat(first, 64)
	if err != nil || !(at >= 0) || math.IsInf(at, 0) {
		return 0, "", fmt.Errorf("%q is not a time in seconds", first)
	}
	action := strings.Join(strings.Fields(rest), " ")
	if action == "" {
		return 0, "", fmt.Errorf("no action after %s", first)
	}
	return at, Action(action), nil
}

// maxLength keeps a mistyped time from filling the disk: two hours.
const maxLength = 7200

func (s Script) check() error {
	if !(s.Length > 0 && s.Length <= maxLength) {
		return fmt.Errorf("practice: the script lasts %g s, expected more than 0 and at most %d", s.Length, maxLength)
	}
	last := 0.0
	for i, step := range s.Steps {
		if !(step.At >= last && step.At <= s.Length) {
			return fmt.Errorf("practice: step %d (%s) at %g s is out of order or beyond the end", i+1, step.Do, step.At)
		}
		last = step.At
	}
	return nil
}

// Run builds the engine, plays the script and returns what the sensors saw and
// what was true.
func Run(cfg Config, script Script, want Sensors) (Recording, Truth, error) {
	if err := script.check(); err != nil {
		return Recording{}, Truth{}, err
	}
	if err := want.fits(script.Length); err != nil {
		return Recording{}, Truth{}, err
	}
	e, err := New(cfg, want)
	if err != nil {
		return Recording{}, Truth{}, err
	}
	for _, step := range script.Steps {
		e.RunUntil(step.At)
		if err := e.Do(step.Do); err != nil {
			return Recording{}, Truth{}, err
		}
	}
	e.RunUntil(script.Length)
	return e.Take(), e.TakeTruth(), nil
}

// Now is the engine's clock in seconds.
func (e *Engine) Now() float64 { return e.now }

// RunUntil lets the engine run until its clock shows t seconds; it does nothing
// when t is past or no finite number.
func (e *Engine) RunUntil(t float64) {
	for e.now < t && !math.IsInf(t, 1) {
		e.step()
	}
}

// Take hands over what the sensors recorded since the last Take.
func (e *Engine) Take() Recording { return e.sensors.take(e) }

// TakeTruth hands over what was true since the last TakeTruth.
func (e *Engine) TakeTruth() Truth {
	out := *e.truth
	*e.truth = Truth{}
	return out
}
