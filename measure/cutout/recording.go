package cutout

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
)

// Track is one quantity against time: T in seconds, ascending, any spacing, as
// many as Y.
type Track struct {
	T []float64 `json:"t"`
	Y []float64 `json:"y"`
}

// Effort is what the idle control does to hold the speed: air, throttle,
// ignition timing, idle valve. More must mean more effort, or less: the sign is
// found.
type Effort struct {
	Name string `json:"name"`
	Unit string `json:"unit,omitempty"`
	Track
}

// Mark is a press of the button or a prompt of the script: about now the
// cylinders went off, or came back on.
type Mark struct {
	At        float64           `json:"at"` // s
	On        bool              `json:"on"` // back on; else off
	Cylinders []engine.Cylinder `json:"cylinders,omitempty"`
	Unsure    bool              `json:"unsure,omitempty"` // nobody confirmed that anything was taken off
}

// Recording is one cut-out test: whatever was recorded, on one clock. Speed, or
// something else that shows a cut, is needed; the rest helps.
type Recording struct {
	Layout  engine.Layout
	Speed   Track    // engine speed, rpm, 2–50 samples a second
	Efforts []Effort // of the idle control
	Rough   Track    // roughness, any unit that grows with it, 0 is smooth
	Cycles  Cycles   // of sound or motion, for the times of cuts
	Heard   bool     // the speed was worked out from sound or motion, not measured

	Marks  []Mark              // with times; nil: cuts are searched for
	Called [][]engine.Cylinder // what was cut, in order, when the marks do not say
	Means  Means               // how it was cut; empty: not said
}

// Check says what makes the recording unusable, and what to do.
func (r Recording) Check() error {
	if !r.Layout.Valid() {
		return fmt.Errorf("cut-out test: no engine layout given: type one, for instance i4 or 1-3-4-2")
	}
	if r.Layout.N() < 2 {
		return fmt.Errorf("cut-out test: an engine of one cylinder stops when it is cut; use compression and ignition checks")
	}
	for _, t := range r.tracks() {
		if err := t.track.check(); err != nil {
			return fmt.Errorf("cut-out test: %s: %w", t.name, err)
		}
	}
	if err := r.Cycles.check(); err != nil {
		return fmt.Errorf("cut-out test: %w", err)
	}
	if len(r.Speed.T) < minSamples {
		return fmt.Errorf("cut-out test: engine speed has %d samples, at least %d are needed: record 10 s before the first cut and 10 s after the last", len(r.Speed.T), minSamples)
	}
	if rate := r.Speed.rate(); rate < minRate {
		return fmt.Errorf("cut-out test: engine speed comes %.2g times a second, at least %.0f are needed: read fewer values at once, or name the unit of the times if it is not seconds (time_ms)", rate, minRate)
	}
	if err := r.checkTimes(); err != nil {
		return err
	}
	return r.checkNames()
}

// Limits of what one test can be, s (judgement): half a day of logging is not
// one; a mark a minute outside the recording is of another clock.
const (
	longestTest = 4 * 3600.0
	latestClock = 1e11
	marksBeside = 60.0
)

// checkTimes refuses times that no test has; work and memory go by them.
func (r Recording) checkTimes() error {
	first, last := r.Speed.T[0], r.Speed.T[len(r.Speed.T)-1]
	if last-first > longestTest || math.Abs(first) > latestClock {
		return fmt.Errorf("cut-out test: engine speed runs from %g s to %g s, at most %.0f s are read: keep the part with the cuts", first, last, longestTest)
	}
	for _, m := range r.Marks {
		if !finite(m.At) {
			return fmt.Errorf("cut-out test: a mark has no time")
		}
		if m.At < first-marksBeside || m.At > last+marksBeside {
			return fmt.Errorf("cut-out test: a mark at %g s lies outside the recording, %.1f s to %.1f s: give marks on its clock", m.At, first, last)
		}
	}
	return nil
}

const (
	minSamples = 30
	minRate    = 1.8 // samples a second: nominal 2, with what a bus loses
)

func (r Recording) checkNames() error {
	sets := slices.Clone(r.Called)
	for _, m := range r.Marks {
		sets = append(sets, m.Cylinders)
	}
	for _, set := range sets {
		seen := map[engine.Cylinder]bool{}
		for _, c := range set {
			if err := r.Layout.Check(c); err != nil {
				return fmt.Errorf("cut-out test: %w", err)
			}
			if seen[c] {
				return fmt.Errorf("cut-out test: cylinder %d stands twice in one cut", c)
			}
			seen[c] = true
		}
	}
	return nil
}

type namedTrack struct {
	name  string
	track Track
}

func (r Recording) tracks() []namedTrack {
	out := []namedTrack{{"engine speed", r.Speed}, {"roughness", r.Rough}}
	for _, e := range r.Efforts {
		out = append(out, namedTrack{e.Name, e.Track})
	}
	return out
}

func (t Track) check() error {
	if len(t.T) != len(t.Y) {
		return fmt.Errorf("%d times and %d values, expected as many", len(t.T), len(t.Y))
	}
	for i := range t.T {
		if !finite(t.T[i]) || !finite(t.Y[i]) {
			return fmt.Errorf("sample %d is no number", i+1)
		}
		if i > 0 && t.T[i] < t.T[i-1] {
			return fmt.Errorf("time runs backwards at sample %d (%.3f s after %.3f s)", i+1, t.T[i], t.T[i-1])
		}
	}
	return nil
}

// rate is the usual number of samples a second, 0 for fewer than two.
func (t Track) rate() float64 {
	var steps []float64
	for i := 1; i < len(t.T); i++ {
		if d := t.T[i] - t.T[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 0
	}
	return 1 / median(steps)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// median of x, which it sorts; 0 for none.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}
