package exercise

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"halforder/engine"
	"halforder/practice"
)

// bay is an engine in the workshop with what checks need to do to it.
type bay struct {
	e      *practice.Engine
	layout engine.Layout
	build  practice.Build
	missed []float64       // share of misses by cylinder as last watched; nil: not known
	mate   engine.Cylinder // to swap with, where one was asked for
}

// result is what a check gave: words for the technician, and the coarse
// outcome by which the best plan tells suspects apart.
type result struct{ text, outcome string }

// do carries out an action the check itself chose: it can always be done.
func (b *bay) do(actions ...practice.Action) {
	for _, a := range actions {
		if err := b.e.Do(a); err != nil {
			panic("exercise: " + err.Error())
		}
	}
}

func (b *bay) wait(seconds float64) { b.e.RunUntil(b.e.Now() + seconds) }

// off stops the engine; it does nothing when it stands.
func (b *bay) off() {
	b.do("release", "spray off", "stop")
	for b.e.State().RPM > 0 {
		b.wait(0.5)
	}
}

// idle starts the engine if need be and lets it settle; it reports whether it
// runs.
func (b *bay) idle() bool {
	for range 3 {
		if b.e.State().Running {
			return true
		}
		b.off()
		b.do("start")
		b.wait(8)
	}
	return b.e.State().Running
}

// attach puts sensors on; a check asks only for sensors the engine has.
func (b *bay) attach(want practice.Sensors) {
	if err := b.e.Attach(want); err != nil {
		panic("exercise: " + err.Error())
	}
}

// taken hands over what was recorded and takes the sensors off.
func (b *bay) taken() practice.Recording {
	rec := b.e.Take()
	b.attach(practice.Sensors{})
	return rec
}

// listen records for some seconds.
func (b *bay) listen(want practice.Sensors, seconds float64) practice.Recording {
	b.attach(want)
	b.wait(seconds)
	return b.taken()
}

// reading is the mean of the bus values of a name.
func reading(rec practice.Recording, name string) float64 {
	var sum, n float64
	for _, v := range rec.Bus {
		if v.Name == name {
			sum, n = sum+v.Value, n+1
		}
	}
	return sum / n
}

func bus(names ...string) practice.Sensors {
	return practice.Sensors{Bus: &practice.BusSensor{PerSecond: 20, Names: names}}
}

// speed is the mean engine speed between two times, from crank edges so many
// to a turn.
func speed(edges []float64, teeth int, from, to float64) float64 {
	i, j := sort.SearchFloat64s(edges, from), sort.SearchFloat64s(edges, to)
	if j-i < 2 {
		return 0
	}
	return 60 * float64(j-1-i) / float64(teeth) / (edges[j-1] - edges[i])
}

// counted says which cylinders the computer saw missing since a count, as a
// share of turns/2.
func counted(now, before []int, cycles float64) []float64 {
	out := make([]float64, len(now))
	for i := range now {
		out[i] = float64(now[i]-before[i]) / math.Max(cycles, 1)
	}
	return out
}

// misses runs for some seconds and counts by the computer's counters.
func (b *bay) misses(seconds float64) []float64 {
	before := b.e.State()
	rec := b.listen(bus("rpm"), seconds)
	return counted(b.e.State().Misfires, before.Misfires, reading(rec, "rpm")/120*seconds)
}

// names lists the cylinders, in words, whose value is above a limit.
func names(values []float64, limit float64) string {
	var out []string
	for i, v := range values {
		if v > limit {
			out = append(out, fmt.Sprint(i+1))
		}
	}
	switch {
	case len(out) == 0:
		return "none"
	case len(out) > 1 && len(out) >= len(values)-1:
		return "all"
	}
	return strings.Join(out, " ")
}

func list(values []float64, format string) string {
	var out []string
	for i, v := range values {
		out = append(out, fmt.Sprintf("%d: "+format, i+1, v))
	}
	return strings.Join(out, "   ")
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
