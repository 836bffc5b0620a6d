package cutout

import (
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
	line      Track // engine speed as analysed, for the picture
}

// Analyse reads a whole recording. The error says what the recording lacks; a
// recording that is fine and shows nothing gives cylinders that cannot be told.
func Analyse(r Recording) (Result, error) {
	if err := r.Check(); err != nil {
		return Result{}, err
	}
	a := newAnalysis(r)
	a.find()
	guesses := a.assign()
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
	levels []level // in what keeps its level
	cuts   []Cut   // as found, with names only where marks gave them
	effort int     // index into Efforts of the one that answers best, −1: none
}

func newAnalysis(r Recording) *analysis {
	g := r.Speed.onGrid()
	a := &analysis{Recording: r, idle: runningSpeed(g.y), effort: -1}
	a.stalls = g.stalls()
	for k := range g.y {
		g.y[k] = -g.y[k] // a drop counts up
	}
	a.speed = newModel(g)
	return a
}

// find looks for sudden changes, in the speed and in what keeps its level.
func (a *analysis) find() {
	if cuts := markedCuts(a.Marks, a.Called); cuts != nil {
		a.cuts = a.refine(cuts, newHand(cuts))
		return
	}
	a.levels, _ = levelChanges(a.levelTracks(), a.speed.start, a.speed.end()) // tracks were checked; an empty answer is an answer
	a.fromSearch()
	a.cuts = search{events: a.events}.unmarked()
	if pulses := a.levelPulses(); len(pulses) > len(a.cuts) {
		found := a.refine(pulses, newClock(pulses))
		rest := search{events: a.speed.keep(a.shape, slices.Clone(a.events[2*len(pulses):]), seen)}
		a.cuts = byTime(append(found, rest.unmarked()...))
	}
	a.cuts = a.believable(a.cuts)
	a.fromPulses()
}

// fromPulses looks for whole cuts, beginning with those found so far and with
// none; what explains the speed best is kept.
func (a *analysis) fromPulses() {
	most := 3*a.Layout.N() + len(a.Called)
	best, least := a.heard(), math.Inf(1)
	if len(a.cuts) > 0 {
		least = a.unexplained()
	}
	for _, known := range [][]Cut{a.cuts, nil} {
		for _, begin := range a.speed.beginnings() {
			a.speed.usePhi(begin)
			cuts, s := a.speed.pulses(a.shape, known, len(a.Called), most)
			if len(cuts) == 0 {
				continue
			}
			a.shape = s
			a.cuts = a.believable(a.refine(cuts, newClock(cuts)))
			if cost := a.unexplained(); cost < least {
				best, least = a.heard(), cost
			}
		}
	}
	a.hear(best)
}

// heard is how far the analysis of the speed has come.
type heard struct {
	shape  shape
	phi    []float64
	events []event
	cuts   []Cut
}

func (a *analysis) heard() heard { return heard{a.shape, a.speed.phi, a.events, a.cuts} }

func (a *analysis) hear(h heard) {
	a.shape, a.events, a.cuts = h.shape, h.events, h.cuts
	a.speed.usePhi(h.phi)
}

// unexplained is what cuts and other changes of load leave of the speed: twice
// the negative log-likelihood, with their prices.
func (a *analysis) unexplained() float64 {
	loads := a.loads(a.cuts)
	called := min(len(a.cuts), len(a.Called))
	price := calledPrice*float64(called) + pulseExplains*float64(len(a.cuts)-called) + loadPrice*float64(len(loads))
	for _, c := range a.cuts {
		off := math.Log(c.length()/usualLength(a.cuts)) / lengthSpread
		price += off * off / 2
	}
	return a.speed.fitEvents(a.shape, append(endsOf(a.cuts), loads...)).cost + 2*price
}

// calledPrice is what a cut costs that is expected: its place within the rhythm
// (judgement).
const calledPrice = 5.0

// believable keeps the cuts at which the speed fell and rose again. What only
// looked like a cut in the levels, or is the stretch between two, goes.
func (a *analysis) believable(cuts []Cut) []Cut {
	a.measureSpeed(cuts)
	return slices.DeleteFunc(cuts, func(c Cut) bool {
		if c.Stalled {
			return false
		}
		drop, rise := c.Drop.Value/c.Drop.Sigma, c.Rise.Value/c.Rise.Sigma
		return drop < -2 || rise < -2 || drop+rise < 3*math.Sqrt2
	})
}

func (a *analysis) levelTracks() []Track {
	var tracks []Track
	if len(a.Rough.T) > minSamples {
		tracks = append(tracks, a.Rough)
	}
	for _, e := range a.Efforts {
		if len(e.T) > minSamples {
			tracks = append(tracks, e.Track)
		}
	}
	return tracks
}

// fromSearch looks for events anywhere. What is found depends on the noise
// assumed at first, so several beginnings are tried and the one that ends up
// explaining the record best is kept.
func (a *analysis) fromSearch() {
	most := 6*a.Layout.N() + 2*len(a.Marks) + 2*len(a.Called)
	m := a.speed
	least := math.Inf(1)
	var phi []float64
	for _, begin := range m.beginnings() {
		m.usePhi(begin)
		s, events := m.search(most)
		f := m.fitEvents(s, events)
		// Each event costs its place and its size.
		if cost := f.cost + 3*math.Log(float64(len(m.y)))*float64(len(events)); cost < least {
			least, a.shape, a.events, phi = cost, s, events, m.phi
		}
	}
	m.usePhi(phi)
	m.sharpen(a.shape, a.events, anywhere{})
}

// refine moves the ends of cuts that are roughly known to where the speed has
// them, and then looks for other changes of load. Where they end up depends on
// the noise and the hand assumed at first, so several beginnings are tried, as in
// fromSearch.
func (a *analysis) refine(cuts []Cut, h *hand) []Cut {
	m, least := a.speed, math.Inf(1)
	var ends []event
	var best *hand
	var phi []float64
	for _, begin := range m.beginnings() {
		for _, prompt := range []float64{0, h.late[0]} {
			m.usePhi(begin)
			own := *h
			own.late[0], own.late[1] = h.late[0]-prompt, h.late[1]-prompt
			s, events, cost := m.settle(cuts, &own)
			if cost < least {
				least, a.shape, ends, best, phi = cost, s, events, &own, m.phi
			}
		}
	}
	m.usePhi(phi)
	a.events = m.pursue(a.shape, ends, seen+1, 4*len(cuts))
	m.fitEvents(a.shape, a.events)
	a.events = withoutEchoes(a.events, len(ends))
	m.fitEvents(a.shape, a.events)
	return best.cuts(a.events)
}

// settle learns control, noise and hand from cuts that are roughly known. It
// returns their ends and twice the negative log-likelihood of all that.
func (m *model) settle(cuts []Cut, h *hand) (s shape, events []event, cost float64) {
	for _, c := range cuts {
		events = append(events, event{at: c.Start + h.late[0]}, event{at: c.End + h.late[1]})
	}
	for range 3 {
		s = m.reshape(events)
		m.sharpen(s, events, h)
		h.learn(events)
		f := m.fitEvents(s, events)
		m.setNoise(f.residual)
	}
	cost = m.fitEvents(s, events).cost
	for i, e := range events {
		cost -= 2 * (h.log(i, e.at) - math.Log(h.spread[i%2]))
	}
	return s, events, cost
}

// Within echoSeconds of an end of a cut a further event counts only when it is
// at least echoShare as large: smaller ones are what the answer assumed lacks.
const echoSeconds, echoShare = 2.0, 0.6

// withoutEchoes drops such events behind the first n, which are the ends.
func withoutEchoes(events []event, n int) []event {
	out := slices.Clone(events[:n])
	for _, e := range events[n:] {
		echo := slices.ContainsFunc(events[:n], func(end event) bool {
			return math.Abs(e.at-end.at) < echoSeconds && math.Abs(e.size) < echoShare*math.Abs(end.size)
		})
		if !echo {
			out = append(out, e)
		}
	}
	return out
}

// guess is one way to name the cuts.
type guess struct {
	cuts     []Cut
	logP     float64 // beforehand
	evidence float64 // with the effects, natural logarithm
	slope    float64 // s, from one called cut to the next; 0: they were marked
}

// assign gives the cuts their names.
func (a *analysis) assign() []guess {
	cuts := a.withStalls(a.cuts)
	switch {
	case len(a.Marks) > 0 && markedCuts(a.Marks, a.Called) != nil, len(a.Marks) == 0 && len(a.Called) == 0:
		return []guess{{cuts: cuts}}
	case len(a.Marks) > 0:
		return []guess{{cuts: nearMarks(cuts, a.Marks, a.Called)}}
	}
	return align(cuts, a.Called, span{a.speed.start, a.speed.end()})
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
	return byTime(cuts)
}

// levelPulses are the cuts that the levels show: a change in the direction in
// which the engine is helped, and the next one that takes it back.
func (a *analysis) levelPulses() []Cut {
	up := a.helpDirection()
	var out []Cut
	for i := 0; i+1 < len(a.levels); i++ {
		from, to := a.levels[i], a.levels[i+1]
		length := to.at - from.at
		if from.along(up) > 0 && from.undone(to) >= 2*seen*seen && length >= shortestCut && length <= longestCut {
			out = append(out, Cut{Start: from.at, End: to.at})
			i++
		}
	}
	return out
}

// helpDirection is the direction in which the levels change when the speed
// falls: the sum over all changes, weighted by the fall of speed at each.
func (a *analysis) helpDirection() []float64 {
	if len(a.levels) == 0 {
		return nil
	}
	up := make([]float64, len(a.levels[0].z))
	for _, l := range a.levels {
		fall := a.speed.grid.mean(l.at-0.5, l.at+0.7) - a.speed.grid.mean(l.at-3, l.at-1)
		for c, z := range l.z {
			if v := fall * z; finite(v) {
				up[c] += v
			}
		}
	}
	return up
}

func byTime(cuts []Cut) []Cut {
	slices.SortStableFunc(cuts, func(x, y Cut) int { return int(math.Copysign(1, x.Start-y.Start)) })
	return cuts
}
