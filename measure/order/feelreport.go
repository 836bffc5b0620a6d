package order

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/floats"

	"halforder/engine"
	"halforder/finding"
)

const (
	feltCoherence = 30.0 // of the clearest order; noise reaches 13
	feltFew       = 20.0 // blocks; fewer must show as much more
	blindOdds     = 3.0  // a chance of 95 %, to accuse without the firing order
	littleMissing = 0.3  // cylinders' worth that a healthy engine may seem to miss. Judgement
	unseenOdds    = -0.5 // of a pattern that the orders do not speak against
)

// feltReport is report for motion.
func (h *heard) feltReport() (finding.Finding, error) {
	parts, best := h.felt()
	if len(parts) == 0 && h.alike >= alikeLeast { // it runs, though too unevenly to be compared
		parts = h.stretches()
	}
	if len(parts) == 0 {
		return finding.Finding{}, &NoEngineError{best, feltCoherence}
	}
	f := finding.Finding{Analysis: FeelName, Likelihood: &finding.Likelihood{Anonymous: true, Log: map[finding.Pattern]float64{}}}
	h.addSpeed(&f)
	h.addFeltVerdict(&f, parts)
	if f.Verdict == finding.Misfire && f.Likelihood.Anonymous {
		f.Notes = append(f.Notes, "which cylinder it is needs a mark: cut one cylinder while recording")
	}
	f.Notes = append(f.Notes, h.reachNote())
	h.addFeltSeries(&f, parts)
	return f, nil
}

// felt gives the stretches in which an engine runs, and how clear the clearest
// is.
func (h *heard) felt() (running []stretch, best float64) {
	for _, p := range h.stretches() {
		best = max(best, p.felt)
		if p.felt >= feltCoherence*(1+feltFew/float64(p.cycles)) {
			running = append(running, p)
		}
	}
	return running, best
}

func (h *heard) addFeltVerdict(f *finding.Finding, parts []stretch) {
	hz := h.total.hz / float64(h.total.cycles)
	f.Verdict = finding.CannotTell
	if h.layout.N() == 1 {
		f.Sentence = "A single cylinder has no other to be compared with: cannot tell whether it misses."
		return
	}
	j := average(parts)
	if !h.reachesFiring() { // absence of half orders proves nothing without a firing order
		j.odds = max(j.odds, 0)
	}
	m := joinMisses(h.counted)
	shown := j
	if _, high := m.interval(); m.sure && !tooRare(high, j) {
		shown = j.atLeast(missOdds)
	}
	f.Quantities = append(f.Quantities, shown.quantities()...)
	f.Likelihood = shown.likelihood()
	f.Verdict, f.Sentence = h.feltVerdict(j, hz)
	if h.alike < alikeNone || h.alike < alikeLeast && f.Verdict == finding.NoMisfire {
		f.Verdict, f.Sentence = finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm hardly a cycle is like the next; it may miss now and then in several cylinders, or turn at another speed. Hold it at a steady idle and record again, or give the speed.", h.total.speed())
		saysNothing(f)
	}
	h.addFeltMisses(f, j, m)
	if f.Verdict == finding.CannotTell && j.odds <= noMisfireOdds {
		setEven(f)
	}
	if len(h.cuts) > 0 {
		h.addNames(f, j)
	}
}

func (h *heard) feltVerdict(j judgement, hz float64) (finding.Verdict, string) {
	speed := engine.FromCycleHz(hz)
	firing := float64(h.layout.N()) / 2
	least := misfireOdds
	if !h.reachesFiring() {
		least = blindOdds
	}
	switch {
	case j.odds >= least:
		return finding.Misfire, fmt.Sprintf("It misfires: at %.0f rpm about %.1f cylinders' worth of work is missing (%.1f to %.1f), %s.",
			speed, j.missing.value, j.missing.low, j.missing.high, j.patternWords())
	case !h.reachesFiring():
		return finding.CannotTell, fmt.Sprintf("Cannot tell: the firing order %.1f shakes at %.0f Hz, out of reach of %.0f samples a second, and without it the half orders have no measure; use a sensor with %.0f samples a second or more, or listen to the sound.",
			firing, 2*firing*hz, h.level.rate, math.Ceil(2*firing*hz/reachShare/10)*10)
	case j.odds <= noMisfireOdds && j.unseen() != "":
		return finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm no single cylinder is missing, but %s would show only at orders out of reach or at order 1; use more samples a second, or the sound.", speed, j.wordsOf(j.unseen()))
	case j.odds <= noMisfireOdds && j.missing.value > littleMissing:
		return finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm no cylinder is dead, but about %.1f cylinders' worth of work may be missing (%.1f to %.1f): one may be weak, or miss now and then; record longer, or cut one cylinder to compare.", speed, j.missing.value, j.missing.low, j.missing.high)
	case j.odds <= noMisfireOdds:
		return finding.NoMisfire, fmt.Sprintf("No misfire felt: at %.0f rpm the half orders are as small as all %d firings leave them.", speed, j.n)
	}
	return finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm the half orders are larger than of an even engine and smaller than of a dead cylinder, or the mounts carry them unlike the firing order; try some 200 rpm more, another place on the engine, or the sound.", speed)
}

// saysNothing takes back what a finding says of the cylinders.
func saysNothing(f *finding.Finding) {
	f.Likelihood = &finding.Likelihood{Anonymous: true, Log: map[finding.Pattern]float64{}}
	setEven(f)
}

// setEven makes a misfire as likely as none.
func setEven(f *finding.Finding) { setChance(f, 0.5) }

// addFeltMisses says how the misses come. Two kinds of cycles, of which one is
// as rough as a miss makes it, accuse whatever the mean of all cycles says.
func (h *heard) addFeltMisses(f *finding.Finding, j judgement, m misses) {
	low, high := m.interval()
	switch {
	case m.sure && !tooRare(high, j):
		if f.Verdict != finding.Misfire {
			f.Verdict, f.Sentence = finding.Misfire, nowAndThen(h.total.speed(), m.share)
		}
	case f.Verdict == finding.Misfire: // no work is missing where no cycle misses
		m.share, low, high = 1, min(j.missing.low, 1), 1
	case f.Verdict == finding.NoMisfire && (m.sure || m.doubt):
		f.Verdict, f.Sentence = finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm no cylinder is missing on average, yet the cycles are of two kinds; record again, longer, and at 200 samples a second or more.", h.total.speed())
		saysNothing(f)
		return
	default:
		return
	}
	addMissShare(f, m, low, high)
}

// unseen is a pattern with dead cylinders alone that fits nearly as well as all
// working; empty when there is none.
func (j judgement) unseen() finding.Pattern {
	for _, p := range j.patterns {
		if p.Count(finding.Dead) > 0 && p.Count(finding.Weak) == 0 && j.log[p] > unseenOdds {
			return p
		}
	}
	return ""
}

// reach is the highest harmonic of the cycle within reach of the samples.
func (h *heard) reach() int {
	return reachOf(h.level.rate, h.total.hz/float64(h.total.cycles))
}

func (h *heard) reachesFiring() bool {
	for k := 1; k <= h.reach(); k++ {
		if absPhasor(h.layout, k) >= naturalLine*float64(h.layout.N()) {
			return true
		}
	}
	return false
}

// reachNote says which orders the rate leaves out.
func (h *heard) reachNote() string {
	speed := h.total.speed()
	return fmt.Sprintf("orders above %.1f are out of reach at %.0f samples a second and %.0f rpm", float64(h.reach())/2, h.level.rate, speed)
}

// addFeltSeries draws the last stretch, and speed and missing work through time.
func (h *heard) addFeltSeries(f *finding.Finding, parts []stretch) {
	last := h.cycles[max(0, len(h.cycles)-stretchCycles):]
	if len(last) >= minCycles {
		f.Series = append(f.Series, h.feltCycle(f.Likelihood, last), h.feltOrders(last))
	}
	f.Series = append(f.Series, finding.Series{Title: "Engine speed", Shape: finding.Line,
		XName: "time", XUnit: "s", YName: "speed", YUnit: "rpm", X: h.speeds.x, Y: h.speeds.y})
	if s := h.feltRoughness(); len(s.X) > 1 {
		f.Series = append(f.Series, s)
	}
	if s := missingSeries(parts); len(s.X) > 1 {
		f.Series = append(f.Series, s)
	}
}

const roughSeconds = 3.0 // of each point of the roughness through time

// feltRoughness is the half orders nearest to the firing order against it, so
// that one dead cylinder makes some 1, through the cycles kept.
func (h *heard) feltRoughness() finding.Series {
	s := finding.Series{Title: "Roughness: half orders beside the firing order, 1 for one dead cylinder", Shape: finding.Line,
		XName: "time", XUnit: "s", YName: "roughness"}
	for from := 0; from < len(h.cycles); {
		to := from + 1
		for to < len(h.cycles) && h.cycles[to].start < h.cycles[from].start+roughSeconds {
			to++
		}
		if to-from >= minCycles {
			if rough, ok := h.folded(h.cycles[from:to]).feltRough(); ok {
				s.X, s.Y = append(s.X, (h.cycles[from].start+h.cycles[to-1].start)/2), append(s.Y, rough)
			}
		}
		from = to
	}
	return s
}

// feltRough is the mean of the odd harmonics next to the firing order over it,
// times N−1; not ok when it is out of reach.
func (f *folded) feltRough() (float64, bool) {
	n := f.layout.N()
	var beside, count, firing float64
	for _, l := range f.shakenOrders() {
		switch off := l.h - n; {
		case off == 0:
			firing = math.Exp(l.log)
		case l.h%2 == 1 && off >= -roughBeside && off <= roughBeside:
			beside, count = beside+math.Exp(l.log), count+1
		}
	}
	if firing == 0 || count == 0 || !f.layout.Even() {
		return 0, false
	}
	return beside / count / firing * float64(n-1), true
}

const roughBeside = 3 // harmonics to each side

// feltOrders shows the orders over all axes against the strongest.
func (h *heard) feltOrders(cycles []cycle) finding.Series {
	s := finding.Series{Title: "Orders felt, all axes together", Shape: finding.Bars, XName: "order", XUnit: "per crank turn", YName: "level against the strongest"}
	top := math.Inf(-1)
	lines := h.folded(cycles).shakenOrders()
	for _, l := range lines {
		top = max(top, l.log)
	}
	for _, l := range lines {
		y := math.Exp(l.log - top)
		s.X, s.Y = append(s.X, float64(l.h)/2), append(s.Y, y)
		s.Low, s.High = append(s.Low, y*math.Exp(-1.645*l.err)), append(s.High, y*math.Exp(1.645*l.err))
		s.Labels = append(s.Labels, fmt.Sprint(float64(l.h)/2))
	}
	return s
}

// feltCycle unrolls one cycle along the direction that shakes most.
func (h *heard) feltCycle(l *finding.Likelihood, cycles []cycle) finding.Series {
	before, marks, when := h.feltMarks(l)
	if before != nil {
		cycles = before
	}
	f := h.folded(cycles)
	along := shakiest(f.bands)
	mean := make([]complex128, h.harmonics)
	for i := range mean {
		for a, p := range f.bands {
			mean[i] += complex(along[a], 0) * p.mean[i]
		}
	}
	s := finding.Series{Title: fmt.Sprintf("One engine cycle%s, where it shakes most", when), Note: whoShakes(marks != nil), Shape: finding.Line,
		XName: "crank angle", XUnit: "°", YName: "acceleration", YUnit: "as recorded", Y: wave(mean, plotPoints), Marks: marks}
	for i := range s.Y {
		s.X = append(s.X, float64(engine.CycleDeg)*float64(i)/plotPoints)
	}
	return s
}

const shakiestSteps = 20 // of the power method; the direction is for drawing only

// shakiest is the direction in which the mean cycle has most power.
func shakiest(axes []picture) []float64 {
	along := []float64{1, 0.9, 0.8} // across no likely direction
	for range shakiestSteps {
		next := make([]float64, len(axes))
		for i, p := range axes {
			for k, q := range axes {
				for h, v := range p.mean {
					next[i] += along[k] * real(v*cmplx.Conj(q.mean[h]))
				}
			}
		}
		size := floats.Norm(next, 2)
		if size == 0 {
			return along
		}
		floats.Scale(1/size, next)
		along = next
	}
	return along
}
