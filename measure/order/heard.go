package order

import (
	"slices"

	"halforder/engine"
	"halforder/finding"
	"halforder/signal"
)

// stretchCycles is how many cycles are judged together.
const stretchCycles = 128

// heard gathers what came in. Cycles are kept only until their stretch is
// judged, so an hour needs little more than a minute.
type heard struct {
	layout    engine.Layout
	bands     []signal.Band
	harmonics int
	level     level
	motion    bool    // of a sensor on the engine, not sound
	typed     bool    // somebody said how fast it turns
	faster    int     // at so many times the speed, cylinders gone, it would sound the same; 0 or 1: no such
	cycles    []cycle // not yet judged
	cuts      []Cut
	kept      []cycle   // around the cuts
	held      []bool    // by cut: the phase of a motion was held across it
	reels     []reel    // of each cut
	placings  []placing // of firings to cylinders, found on the way to the names
	losses    []*loss   // of motion with each cut
	weighers  []weigher // of the work of each cylinder, by each cut
	marked    engine.Cylinder
	marks     []float64 // s
	judged    []stretch
	total     tally
	speeds    trace
	piece     int // counts the gaps so far
	settled   settled
	tape      tape     // of what is not yet counted
	counted   []misses // of each tape before
	alike     float64  // of motion: share of the power that all cycles have in common; NaN: unknown
	between   bool     // a finding in between, not the last one
	fresh     misses   // of the tape when it was shorter, for a finding in between
}

// keptCycles bounds the memory of recordings with cuts: some ten minutes.
const keptCycles = 6000

// stretch is a judged run of cycles.
type stretch struct {
	from, to float64 // s
	cycles   int
	judgement
	quiet quietSlots
	felt  float64 // of motion: the clearest order's power over the variance of its mean
}

// tally counts over all cycles.
type tally struct {
	cycles           int
	hz, square       float64 // sums of the cycle rate and its square
	score            float64
	slowest, fastest float64 // cycle rates
}

func newHeard(layout engine.Layout, bands []signal.Band, harmonics int, rate float64) heard {
	return heard{layout: layout, bands: bands, harmonics: harmonics, level: level{rate: rate}}
}

func (h *heard) add(c cycle) {
	c.piece = h.piece
	h.total.add(c)
	if len(h.cuts) > 0 && len(h.kept) < keptCycles {
		h.kept = append(h.kept, c)
	}
	if h.inCut(c.start) {
		return // the cut cylinder must not count as a misfire
	}
	h.cycles = append(h.cycles, c)
	h.speeds.add(c.start, float64(engine.FromCycleHz(c.hz)))
	if len(h.cycles) >= 2*stretchCycles {
		h.judged = append(h.judged, h.judgeStretch(h.cycles[:stretchCycles]))
		h.cycles = append([]cycle(nil), h.cycles[stretchCycles:]...)
	}
}

// speed is the mean over the cycles, 0 before the first.
func (t tally) speed() engine.RPM {
	return engine.FromCycleHz(t.hz / float64(max(t.cycles, 1)))
}

func (t *tally) add(c cycle) {
	if t.cycles == 0 || c.hz < t.slowest {
		t.slowest = c.hz
	}
	t.fastest = max(t.fastest, c.hz)
	t.cycles++
	t.hz += c.hz
	t.square += c.hz * c.hz
	t.score += c.score
}

// tapeCycle keeps a cycle for counting; a cut ends the tape.
func (h *heard) tapeCycle(frames signal.Frames, c cycle, start, end float64) {
	if h.inCut(c.start) || h.tape.cycles() >= missTape {
		h.endTape()
	}
	if !h.inCut(c.start) && h.layout.N() > 1 {
		h.tape.take(frames, c, start, end)
	}
}

// endTape counts the misses on the tape and begins a new one.
func (h *heard) endTape() {
	if h.tape.cycles() >= fewestCycles {
		h.counted = append(h.counted, h.countTape(anyUneven(h.stretches())))
	}
	h.tape, h.fresh = tape{}, misses{}
}

func anyUneven(parts []stretch) bool {
	return slices.ContainsFunc(parts, func(s stretch) bool { return s.quiet.uneven })
}

// refresh counts the misses on the tape when it has grown by a quarter.
func (h *heard) refresh() {
	if h.tape.cycles() >= max(fewestCycles, h.fresh.cycles*5/4) {
		h.fresh = h.countTape(anyUneven(h.stretches()))
	}
}

// allMisses counts those of all tapes.
func (h *heard) allMisses(parts []stretch) misses {
	last := h.fresh
	if !h.between {
		last = h.countTape(anyUneven(parts))
	}
	return joinMisses(append(slices.Clip(h.counted), last))
}

// stretches gives all that is judged and the rest, judged now.
func (h *heard) stretches() []stretch {
	out := h.judged[:len(h.judged):len(h.judged)]
	parts := (len(h.cycles) + stretchCycles - 1) / stretchCycles
	for i := range parts {
		part := h.cycles[i*len(h.cycles)/parts : (i+1)*len(h.cycles)/parts]
		if len(part) >= minCycles {
			out = append(out, h.judgeStretch(part))
		}
	}
	return out
}

func (h *heard) judgeStretch(cycles []cycle) stretch {
	last := cycles[len(cycles)-1]
	f := h.folded(cycles)
	s := stretch{from: cycles[0].start, to: last.start + last.seconds, cycles: len(cycles), judgement: h.judge(f)}
	if h.motion {
		s.felt = f.clearest()
	} else {
		s.quiet = f.countQuiet()
		if s.odds < misfireOdds {
			s.quiet.faint = f.faintFirings()
		}
	}
	return s
}

func (h *heard) judge(f *folded) judgement {
	if h.motion {
		j := judgeShakes(f)
		j.temper(cyclesIn(f.cycles))
		return j
	}
	j := judge(weigh(f), h.ratioOf(f), h.layout.N())
	j.temper(float64(len(f.cycles)))
	return j
}

func (h *heard) ratioOf(f *folded) ratio { return f.neighbourRatio() }

// fewCycles is where the evidence counts half: errors estimated from few cycles
// are themselves uncertain.
const fewCycles = 15

// temper weakens a judgement from few cycles.
func (j *judgement) temper(cycles float64) {
	share := cycles * cycles / (cycles*cycles + fewCycles*fewCycles)
	for p := range j.log {
		j.log[p] *= share
	}
	j.odds, j.bass, j.upper = j.odds*share, j.bass*share, j.upper*share
}

// average joins judged stretches. What spoils one stretch mostly spoils all, so
// their weights are averaged, not added.
func average(parts []stretch) judgement {
	j := judgement{n: parts[0].n, patterns: parts[0].patterns, log: map[finding.Pattern]float64{}}
	var total float64
	for _, p := range parts {
		w := float64(p.cycles)
		total += w
		for k, v := range p.log {
			j.log[k] += v * w
		}
		j.odds += p.odds * w
		j.bass += p.bass * w
		j.upper += p.upper * w
		j.rough += p.rough * w
		j.missing.value += p.missing.value * w
		j.missing.low += p.missing.low * w
		j.missing.high += p.missing.high * w
	}
	for k := range j.log {
		j.log[k] /= total
	}
	j.odds, j.bass, j.upper = j.odds/total, j.bass/total, j.upper/total
	j.rough /= total
	j.missing = interval{j.missing.value / total, j.missing.low / total, j.missing.high / total}
	return j
}

// trace keeps a value through time with a bounded number of points.
type trace struct {
	x, y  []float64
	every float64
}

const tracePoints = 1200

func (t *trace) add(x, y float64) {
	if n := len(t.x); n > 0 && x < t.x[n-1]+t.every {
		return
	}
	t.x, t.y = append(t.x, x), append(t.y, y)
	if len(t.x) < tracePoints {
		return
	}
	for i := range tracePoints / 2 {
		t.x[i], t.y[i] = t.x[2*i], t.y[2*i]
	}
	t.x, t.y = t.x[:tracePoints/2], t.y[:tracePoints/2]
	t.every = max(2*t.every, 2*(t.x[1]-t.x[0])/2)
}

func (t trace) clone() trace {
	t.x, t.y = slices.Clone(t.x), slices.Clone(t.y)
	return t
}
