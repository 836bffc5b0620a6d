package cutout

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// Result is what a cut-out test showed.
type Result struct {
	Layout    engine.Layout
	IdleRPM   engine.RPM
	Cuts      []Cut
	Loads     []float64  // s, changes of load that were no cut: a fan, a compressor
	Effort    string     // name of the effort that answered best, empty: none
	Cylinders []Cylinder // by number
	Sets      []Set      // cylinders that cannot be told apart
	Notes     []string   // what the technician should know
	Patterns  finding.Likelihood
	timeline  []finding.Series
}

// Analyse reads a whole recording. The error says what the recording lacks; a
// recording that is fine and shows nothing gives cylinders that cannot be told.
func Analyse(r Recording) (Result, error) {
	if err := r.Check(); err != nil {
		return Result{}, err
	}
	a := newAnalysis(r)
	a.find()
	guesses, err := a.assign()
	if err != nil {
		return Result{}, err
	}
	a.measure(guesses)
	return a.judge(guesses), nil
}

// analysis is the work on one recording.
type analysis struct {
	Recording
	idle   float64
	speed  *model
	stalls []span
	shape  shape
	events []event // in the speed
	levels []event // in what keeps its level
	notes  []string
	marked []Cut // from marks, when there are any
	effort int   // index into Efforts of the one that answers best, −1: none
}

func newAnalysis(r Recording) *analysis {
	g := r.Speed.onGrid()
	a := &analysis{Recording: r, idle: median(there(g.y)), effort: -1}
	a.stalls = g.stalls()
	for k := range g.y {
		g.y[k] = -g.y[k] // a drop counts up
	}
	a.speed = newModel(g)
	return a
}

func (a *analysis) note(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if !slices.Contains(a.notes, text) {
		a.notes = append(a.notes, text)
	}
}

// find looks for sudden changes, in the speed and in what keeps its level.
func (a *analysis) find() {
	if cuts := markedCuts(a.Marks, a.Called); cuts != nil {
		a.marked = a.fromMarks(cuts)
	} else {
		a.fromSearch()
	}
	var tracks []Track
	if len(a.Rough.T) > minSamples {
		tracks = append(tracks, a.Rough)
	}
	for _, e := range a.Efforts {
		if len(e.T) > minSamples {
			tracks = append(tracks, e.Track)
		}
	}
	a.levels, _ = levelEvents(tracks, a.speed.start, a.speed.end()) // tracks were checked; an empty answer is an answer
}

// fromSearch looks for events anywhere, first with a rough idea of the noise and
// the control, then with both as learnt.
func (a *analysis) fromSearch() {
	most := 6*a.Layout.N() + 2*len(a.Marks) + 2*len(a.Called)
	m := a.speed
	a.shape = m.chooseShape(most)
	a.events = m.pursue(a.shape, nil, 4, most)
	for range 2 {
		if len(a.events) == 0 {
			return
		}
		a.shape = m.reshape(a.events)
		m.setNoise(m.fitEvents(a.shape, a.events).residual)
		a.events = m.keep(a.shape, m.pursue(a.shape, a.events, seen, most), seen)
	}
	m.sharpen(a.shape, a.events, anywhere{})
}

// fromMarks fits the cuts where the marks are, moves their ends to where the
// record has them, and then looks for other changes of load.
func (a *analysis) fromMarks(cuts []Cut) []Cut {
	m := a.speed
	var events []event
	for _, c := range cuts {
		events = append(events, event{at: c.Start + handLate}, event{at: c.End + handLate})
	}
	hand := newHand(cuts)
	for range 3 {
		a.shape = m.reshape(events)
		m.sharpen(a.shape, events[:2*len(cuts)], hand)
		hand.learn(events)
		m.setNoise(m.fitEvents(a.shape, events).residual)
	}
	all := m.pursue(a.shape, events, seen+0.5, 4*len(cuts))
	m.fitEvents(a.shape, all)
	a.events = all
	return hand.cuts(all)
}

// guess is one way to name the cuts.
type guess struct {
	cuts []Cut
	logP float64
}

// assign locates the cuts and gives them their names.
func (a *analysis) assign() ([]guess, error) {
	if a.marked != nil {
		return []guess{{cuts: a.withStalls(a.marked)}}, nil
	}
	s := search{events: a.events}
	cuts := a.withStalls(s.unmarked())
	if len(a.levels) > 0 {
		cuts = a.addLevelCuts(cuts)
	}
	if len(a.Marks) > 0 {
		return []guess{{cuts: nearMarks(cuts, a.Marks, a.Called)}}, nil
	}
	if len(a.Called) == 0 {
		return []guess{{cuts: cuts}}, nil
	}
	return align(cuts, a.Called, a.speed.start, a.speed.end()), nil
}

// withStalls marks cuts that stopped the engine, and adds those only a stall shows.
func (a *analysis) withStalls(cuts []Cut) []Cut {
	for _, s := range a.stalls {
		k := slices.IndexFunc(cuts, func(c Cut) bool { return c.Start < s.from+1 && c.End > s.from-3 })
		if k < 0 {
			if len(a.Marks) == 0 {
				cuts = append(cuts, Cut{Start: s.from - 0.5, End: s.from + 0.5, Stalled: true})
			}
			continue
		}
		cuts[k].Stalled = true
		cuts[k].EndSeen = false
		cuts[k].End = max(s.from, cuts[k].Start+shortestCut)
	}
	slices.SortFunc(cuts, func(x, y Cut) int { return int(math.Copysign(1, x.Start-y.Start)) })
	return cuts
}

// addLevelCuts adds the cuts that only the levels show.
func (a *analysis) addLevelCuts(cuts []Cut) []Cut {
	for i := 0; i+1 < len(a.levels); i++ {
		from, to := a.levels[i], a.levels[i+1]
		length := to.at - from.at
		if from.z*to.z >= 0 || math.Abs(from.z) < seen || math.Abs(to.z) < seen || length < shortestCut || length > longestCut {
			continue
		}
		if !slices.ContainsFunc(cuts, func(c Cut) bool { return c.Start < to.at && c.End > from.at }) {
			cuts = append(cuts, Cut{Start: from.at, End: to.at})
			i++
		}
	}
	slices.SortFunc(cuts, func(x, y Cut) int { return int(math.Copysign(1, x.Start-y.Start)) })
	return cuts
}
