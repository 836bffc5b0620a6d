package cutout

import (
	"math"
	"math/rand/v2"
	"slices"
)

// naming finds the cuts of a test that were called in order and not marked.
type naming struct {
	analysis *analysis
	start    float64 // s, of place 0
	places   int
	trace    trace
	most     float64 // speed's answer to a healthy cylinder's cut as expected, in its trace
	stalls   []int
}

// byOrder gives the ways to name the cuts, likeliest first, each as likely as
// rhythm and record make it.
func (a *analysis) byOrder() []guess {
	n, best := a.beginNaming()
	if n == nil {
		return nil
	}
	n.listen()
	best = n.learn(best, 3)
	if a.cuts = n.refined(best); len(a.cuts) > 0 {
		n.listen()
		best = n.learn(best, 2)
	}
	return n.guesses(best)
}

// Longer tests, s, and more cuts are not searched by their order: work and memory
// go by their product.
const (
	longestOrdered = 1800.0
	mostOrdered    = 60
)

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

// beginNaming begins with the answer and the noise as a search for separate
// changes has them, and as the whole record has them; each way leads to cuts, and
// the one whose cuts explain the speed best is kept.
func (a *analysis) beginNaming() (kept *naming, best hypothesis) {
	if a.speed.end()-a.speed.start > longestOrdered || len(a.Called) > mostOrdered {
		return nil, best
	}
	a.fromSearch()
	begin := []heard{a.heard()}
	a.findSeparate()
	begin = append(begin, a.heard())
	for _, phi := range a.speed.beginnings() {
		a.speed.usePhi(phi)
		begin = append(begin, heard{a.speed.chooseShape(2 * len(a.Called)), phi, nil, nil})
	}
	least, found := math.Inf(1), begin[0]
	for _, h := range begin {
		a.hear(h)
		n := a.newNaming()
		hypothesis, ok := n.begin()
		if !ok {
			continue
		}
		a.cuts = n.refined(hypothesis)
		if cost := a.unexplained(); cost < least {
			kept, best, least, found = n, hypothesis, cost, a.heard()
		}
	}
	a.hear(found)
	return kept, best
}

// unexplained is what the found cuts leave of the speed: twice the negative
// log-likelihood, each cut's place and size counted.
func (a *analysis) unexplained() float64 {
	var events []event
	for _, c := range a.cuts {
		events = append(events, event{at: c.Start}, event{at: c.End})
	}
	return a.speed.fitEvents(a.shape, events).cost + 3*math.Log(float64(len(a.speed.y)))*float64(len(a.cuts))
}

func (a *analysis) newNaming() *naming {
	n := &naming{analysis: a, start: a.speed.start}
	n.places = int((a.speed.end() - n.start) / placeStep)
	for _, s := range a.stalls {
		n.stalls = append(n.stalls, int((s.from-n.start)/placeStep))
	}
	n.listen()
	return n
}

// listen makes the trace, with the form of answer and the noise as they are known
// by now.
func (n *naming) listen() {
	a := n.analysis
	n.trace = a.speed.trace(a.shape, n.start, n.places)
	n.most = 0.4 * a.idle / float64(a.Layout.N()) * a.speed.strengthOf(a.shape)
}

// hypothesis is what a search begins with or has learnt.
type hypothesis struct {
	effect        [2]float64 // of a healthy cylinder's cut where it begins and ends
	length, pause rhythm
	chance        [][]float64 // slot, share
	schedule      *schedule
}

const (
	openSpread             = 0.35 // of a rhythm not yet learnt
	steadiest, unsteadiest = 0.12, 0.5
	shortestPause          = 1.0 // s
	longestPause           = 90.0
	keptTries              = 3
)

// begin tries lengths, pauses and sizes of effects and returns the best.
func (n *naming) begin() (hypothesis, bool) {
	var tried []hypothesis
	k := float64(len(n.analysis.Called))
	all := float64(n.places) * placeStep
	for _, length := range []float64{1.8, 3.5, 7} {
		for _, filled := range []float64{1, 0.75, 0.5} {
			pause := (filled*all - k*length) / (k + 1)
			if pause < shortestPause {
				continue
			}
			for _, size := range []float64{0.35, 0.7, 1.4} {
				h := hypothesis{effect: [2]float64{size * n.most, size * n.most}, length: cutRhythm(length, openSpread), pause: pauseRhythm(pause, openSpread)}
				for range n.analysis.Called {
					h.chance = append(h.chance, shareChances)
				}
				n.weigh(&h)
				tried = append(tried, h)
			}
		}
	}
	slices.SortStableFunc(tried, func(x, y hypothesis) int { return descending(x.schedule.logP, y.schedule.logP) })
	tried = tried[:min(len(tried), keptTries)]
	for i := range tried {
		tried[i] = n.learn(tried[i], 2)
	}
	slices.SortStableFunc(tried, func(x, y hypothesis) int { return descending(x.schedule.logP, y.schedule.logP) })
	if len(tried) == 0 {
		return hypothesis{}, false
	}
	return tried[0], true
}

func descending(x, y float64) int {
	switch {
	case x > y:
		return -1
	case x < y:
		return 1
	}
	return 0
}

func cutRhythm(seconds, spread float64) rhythm {
	return newRhythm(seconds/placeStep, spread, shortestCut, math.Min(4*seconds, longestCut))
}

func pauseRhythm(seconds, spread float64) rhythm {
	return newRhythm(seconds/placeStep, spread, shortestPause, math.Min(4*seconds, longestPause))
}

// weigh makes the schedule of a hypothesis.
func (n *naming) weigh(h *hypothesis) {
	n.trace.begin, n.trace.end = h.effect[0], h.effect[1]
	bySize := map[int]*effects{}
	var alike []slot
	s := &schedule{places: n.places, length: h.length, pause: h.pause}
	for j, call := range n.analysis.Called {
		size := max(len(call), 1)
		if bySize[size] == nil {
			bySize[size] = newEffects(n.trace, float64(size), n.places, n.stalls)
		}
		made := slot{effects: bySize[size], chance: h.chance[j]}
		k := slices.IndexFunc(alike, func(o slot) bool { return o.effects == made.effects && slices.Equal(o.chance, made.chance) })
		if k < 0 {
			made.weighPairs(h.length, n.places)
			alike, k = append(alike, made), len(alike)
		}
		s.slots = append(s.slots, alike[k])
	}
	s.forward()
	h.schedule = s
}

// learn improves a hypothesis some times over (expectation–maximisation).
func (n *naming) learn(h hypothesis, times int) hypothesis {
	n.weigh(&h)
	for range times {
		l := h.schedule.backward()
		next := hypothesis{length: h.length.learn(l.length, cutRhythm), pause: h.pause.learn(l.pause, pauseRhythm)}
		next.effect = n.sane(n.trace.learn(l, h.effect))
		next.chance = n.chances(l.message)
		n.weigh(&next)
		h = next
	}
	return h
}

// sane keeps the speed's answer within what an engine of so many cylinders gives.
func (n *naming) sane(e [2]float64) [2]float64 {
	for i := range e {
		e[i] = math.Max(0.1*n.most, math.Min(e[i], 4*n.most))
	}
	return e
}

// learn takes centre and spread of a time from how often each was.
func (r rhythm) learn(often []float64, made func(seconds, spread float64) rhythm) rhythm {
	low, usual, high := quantile(often, 0.25), quantile(often, 0.5), quantile(often, 0.75)
	if usual <= 0 || low <= 0 {
		return r
	}
	spread := math.Log(high/low) / 1.349
	spread = math.Max(steadiest, math.Min((2*spread+r.spread)/3, unsteadiest))
	return made(usual*placeStep, spread)
}

// quantile of a histogram by its index.
func quantile(often []float64, q float64) float64 {
	var total float64
	for _, v := range often {
		total += v
	}
	left := q * total
	for i, v := range often {
		if v > 0 && left <= v {
			return float64(i) - 0.5 + left/v
		}
		left -= v
	}
	return 0
}

// learn takes the effect of a healthy cylinder from the cuts as they may lie; both
// ends count as one effect as far as they are few.
func (t trace) learn(l learnt, was [2]float64) [2]float64 {
	const alike = 2.0 // cuts' worth of experience that both ends are alike
	var along, square [2]float64
	for w, share := range shares {
		for i, z := range t.z {
			if finite(z) {
				along[0] += l.begin[w][i] * share * clip(z, 3*math.Abs(was[0])+leastWide)
				along[1] -= l.end[w][i] * share * clip(z, 3*math.Abs(was[1])+leastWide)
				square[0] += l.begin[w][i] * share * share
				square[1] += l.end[w][i] * share * share
			}
		}
	}
	both := (along[0] + along[1]) / math.Max(square[0]+square[1], 1e-9)
	var out [2]float64
	for i := range out {
		out[i] = (along[i] + alike*both) / (square[i] + alike)
	}
	return out
}

func clip(x, most float64) float64 { return math.Max(-most, math.Min(x, most)) }

// otherCutsSay is how far a slot believes what the record says of the same
// cylinders at other cuts: a call may have been misheard.
const otherCutsSay = 0.9

// chances of each slot's shares: as usual, and as its cylinders' other cuts say.
func (n *naming) chances(message [][]float64) [][]float64 {
	var out [][]float64
	for j, call := range n.analysis.Called {
		told := slices.Clone(shareChances)
		for i, other := range n.analysis.Called {
			if i != j && slices.Equal(sorted(call), sorted(other)) {
				for w := range told {
					told[w] *= near1(message[i], w)
				}
			}
		}
		normalise(told)
		for w := range told {
			told[w] = otherCutsSay*told[w] + (1-otherCutsSay)*shareChances[w]
		}
		out = append(out, told)
	}
	return out
}

// near1 lets a share be taken for its neighbours: a cylinder that misses now and
// then differs from cut to cut.
func near1(message []float64, w int) float64 {
	sum, n := message[w], 1.0
	if w > 0 {
		sum, n = sum+message[w-1]/4, n+0.25
	}
	if w+1 < len(message) {
		sum, n = sum+message[w+1]/4, n+0.25
	}
	return sum / n
}

func normalise(x []float64) {
	var sum float64
	for _, v := range x {
		sum += v
	}
	for i := range x {
		x[i] /= math.Max(sum, 1e-300)
	}
}

// Ways are drawn to see which differ.
const (
	drawn    = 200
	sameCut  = 2.5  // s: nearer beginnings are the same cut
	mostWays = 8    // that are measured
	rareWay  = 0.01 // share of the drawn that is not measured
)

// kind is a set of drawn ways that name the visible cuts alike.
type kind struct{ ways []way }

func (n *naming) kinds(h hypothesis) []kind {
	rng := rand.New(rand.NewPCG(1, uint64(n.places))) // the same record, the same answer
	within := (h.length.usual + h.pause.usual) / 2
	var kinds []kind
	for range drawn {
		w := h.schedule.draw(rng)
		i := slices.IndexFunc(kinds, func(k kind) bool { return k.ways[0].like(w, within) })
		if i < 0 {
			kinds = append(kinds, kind{})
			i = len(kinds) - 1
		}
		kinds[i].ways = append(kinds[i].ways, w)
	}
	slices.SortStableFunc(kinds, func(a, b kind) int { return len(b.ways) - len(a.ways) })
	return kinds
}

// like says whether two ways take the same for each cut, where it shows; within is
// how far apart, in places, the same cut may lie when it does not show in one.
func (w way) like(o way, within float64) bool {
	for j := range w.begin {
		off := math.Abs(float64(w.begin[j] - o.begin[j]))
		switch {
		case !w.visible[j] && !o.visible[j]:
		case off > within, w.visible[j] && o.visible[j] && off*placeStep > sameCut:
			return false
		}
	}
	return true
}

// shows says whether most ways of the kind have something visible at slot j.
func (k kind) shows(j int) bool {
	n := 0
	for _, w := range k.ways {
		if w.visible[j] {
			n++
		}
	}
	return 2*n > len(k.ways)
}

// cutsOf a kind lie at the mean of its ways.
func (n *naming) cutsOf(k kind) []Cut {
	out := make([]Cut, len(n.analysis.Called))
	for j := range out {
		var begin, end, many float64
		for _, w := range k.ways {
			if w.visible[j] == k.shows(j) {
				begin, end, many = begin+float64(w.begin[j]), end+float64(w.end[j]), many+1
			}
		}
		scale := placeStep / many
		out[j] = Cut{Cylinders: n.analysis.Called[j], Start: n.start + begin*scale, End: n.start + end*scale}
	}
	return out
}

// refined are the visible cuts of the likeliest kind, to where the speed has them.
func (n *naming) refined(h hypothesis) []Cut {
	k := n.kinds(h)[0]
	var visible []Cut
	for j, c := range n.cutsOf(k) {
		if k.shows(j) {
			visible = append(visible, c)
		}
	}
	if len(visible) == 0 {
		return nil
	}
	a := n.analysis
	clock := newClock(visible)
	clock.late = [2]float64{} // found in the speed itself
	a.speed.usePhi(flywheelMemory(a.speed.step))
	out := a.refine(visible, clock)
	for i := range out {
		out[i].Cylinders = nil
	}
	return out
}

func (n *naming) guesses(h hypothesis) []guess {
	var out []guess
	rest := 1.0
	for i, k := range n.kinds(h) {
		share := float64(len(k.ways)) / drawn
		if i == mostWays || share <= rareWay {
			break
		}
		cuts := n.cutsOf(k)
		for j, c := range cuts {
			if k.shows(j) {
				cuts[j] = n.sharp(c)
			}
		}
		out = append(out, guess{cuts: n.analysis.withStalls(cuts), logP: math.Log(share)})
		rest -= share
	}
	if rest > 1e-9 {
		out = append(out, guess{logP: math.Log(rest)})
	}
	return out
}

// sharp is the refined cut that lies there.
func (n *naming) sharp(c Cut) Cut {
	for _, r := range n.analysis.cuts {
		if math.Abs(r.Start-c.Start) < sameCut && math.Abs(r.End-c.End) < sameCut {
			r.Cylinders = c.Cylinders
			return r
		}
	}
	c.Seen, c.EndSeen = true, true
	return c
}
