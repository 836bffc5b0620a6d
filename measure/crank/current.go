package crank

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
)

// CurrentVersion names the starter-current analysis in findings.
const CurrentVersion = "starter-current/1"

// StarterCurrent is a clamp's signal around the starter's lead.
type StarterCurrent struct {
	Rate   float64   // samples per second
	Values []float32 // any unit, rising with current; a falling one is turned over
	Marks  []float64 // once per cycle, seconds from the first sample: cam edge or a cylinder's event; may be empty
}

// Limits of cranking speed in rpm for the search of the firing rate.
const crankingLeast = 70

// StarterCompression reads relative compression from the starter's current:
// it peaks while each cylinder compresses. Reference counts from the marks.
func StarterCompression(s Setup, cur StarterCurrent) (*Compression, error) {
	if !s.Layout.Valid() {
		return nil, errNoEngine
	}
	if !s.Layout.Even() || s.Layout.N() < 2 {
		return nil, errors.New("starter current tells cylinders apart on evenly firing engines of two cylinders and more")
	}
	x, rate, err := cur.reduced()
	if err != nil {
		return nil, err
	}
	over, sure := turnedOver(x)
	if over {
		x = column(x, func(v float64) float64 { return -v })
	}
	cycles, err := currentCycles(x, rate, s.Layout.N(), cur.Marks)
	if err != nil {
		return nil, err
	}
	a := &analysis{setup: s, clock: &clock{}}
	if !sure {
		cur.Marks = nil
		a.notes = append(a.notes, "Which way up the current is cannot be told, so no cylinder is named: begin to record before the starter turns.")
	}
	fit := a.fitPeaks(x, rate, cycles, cur.Marks)
	if scale := upperMiddle(fit.mean); !(scale > 1e-6 && scale < 1e9) || fit.count < 3*s.Layout.N() {
		return nil, fmt.Errorf("only %d clear pulses in the starter current, %d are needed: crank for five seconds", fit.count, 3*s.Layout.N())
	}
	return a.currentResult(fit), nil
}

// currentRate is the rate the current is averaged down to, hertz: compressions
// pass at some 10 to 40 a second.
const currentRate = 1000

// reduced averages the samples down and takes the middle away.
func (c StarterCurrent) reduced() ([]float64, float64, error) {
	if !(c.Rate >= 100 && c.Rate <= MaxTraceRate) {
		return nil, 0, fmt.Errorf("starter current at %g samples a second cannot be used, expected 100 or more", c.Rate)
	}
	block := max(1, int(c.Rate/currentRate))
	n := len(c.Values) / block
	rate := c.Rate / float64(block)
	if float64(n) < 2*rate {
		return nil, 0, fmt.Errorf("%.2g s of starter current are too short: crank for five seconds", float64(n)/rate)
	}
	out := make([]float64, n)
	for i := range out {
		for _, v := range c.Values[i*block : (i+1)*block] {
			if f := float64(v); !math.IsNaN(f) && !math.IsInf(f, 0) {
				out[i] += f / float64(block)
			}
		}
	}
	return out, rate, nil
}

// turnedOver reports whether the signal falls with current, and whether that is
// sure: the inrush of a starter is far the greatest swing from rest. A coupled
// clamp has its middle near zero, and without the inrush nothing tells.
func turnedOver(x []float64) (over, sure bool) {
	const nearZero, far = 0.1, 1.3
	mid := median(x)
	high, low := 0.0, 0.0
	for _, v := range x {
		high, low = max(high, v-mid), max(low, mid-v)
	}
	if math.Abs(mid) > nearZero*(high+low) {
		return mid < 0 && low > high, true
	}
	return low > high, max(low, high) > far*min(low, high)
}

// pulseTrack is the phase of the compressions over time, in compressions.
type pulseTrack struct {
	phase    []float64 // by sample; NaN where the starter does not turn the engine steadily
	from, to int
	perSec   float64
}

// currentCycles finds the rate of compressions and follows its phase.
func currentCycles(x []float64, rate float64, cylinders int, marks []float64) (pulseTrack, error) {
	from, to := steadyPart(x, rate)
	if float64(to-from) < 1.5*rate {
		return pulseTrack{}, errors.New("no second and a half of steady cranking in the starter current")
	}
	least, most := crankingLeast*float64(cylinders)/120, crankingMost*float64(cylinders)/120
	if f := float64(cylinders) * cyclesPerSecond(marks, float64(from)/rate, float64(to)/rate); f > least && f < most {
		least, most = max(least, f/marksAgree), min(most, f*marksAgree)
	}
	best, power := 0.0, 0.0
	for f := least; f <= most; f *= 1.01 {
		if p := cmplx.Abs(demodulate(x, rate, f, from, to)); p > power {
			best, power = f, p
		}
	}
	if !(power > 1e-12) {
		return pulseTrack{}, errors.New("the starter current does not pulse")
	}
	if cylinders >= crowded {
		best *= highestMultiple(x, rate, best, most, from, to)
	}
	return followPhase(x, rate, best, from, to), nil
}

// highestMultiple is the highest by which a frequency can be multiplied, up to
// the most, and still pulse with overtone of its strength.
func highestMultiple(x []float64, rate, f, most float64, from, to int) (times float64) {
	power := cmplx.Abs(demodulate(x, rate, f, from, to))
	times = 1
	for k := 2.0; k*f <= most; k++ {
		if cmplx.Abs(demodulate(x, rate, k*f, from, to)) > overtone*power {
			times = k
		}
	}
	return times
}

// overtone is the strength, of the strongest pulse, from which a faster one is
// taken for the firing rate of crowded cylinders.
const overtone = 0.3

// Of crowded cylinders and more the compressions make less of a pulse than one
// that is low makes once per cycle: what pulses most may be a fraction of the
// firing rate. Marks once per cycle tell it within marksAgree.
const (
	crowded    = 8
	marksAgree = 1.1
)

// cyclesPerSecond is the rate of marks within a time; 0 with too few.
func cyclesPerSecond(marks []float64, from, to float64) float64 {
	var steps []float64
	for i := 1; i < len(marks); i++ {
		if marks[i-1] >= from && marks[i] <= to {
			steps = append(steps, marks[i]-marks[i-1])
		}
	}
	if len(steps) < 3 || !(median(steps) > 0) {
		return 0
	}
	return 1 / median(steps)
}

// demodulate is the amplitude of a frequency between two samples.
func demodulate(x []float64, rate, f float64, from, to int) complex128 {
	mean := 0.0
	for _, v := range x[from:to] {
		mean += v / float64(to-from)
	}
	var sum complex128
	turn := cmplx.Rect(1, -2*math.Pi*f/rate)
	z := cmplx.Rect(1, -2*math.Pi*f*float64(from)/rate)
	n := float64(to - from)
	for i, v := range x[from:to] {
		hann := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/n)
		sum += complex((v-mean)*hann, 0) * z
		z *= turn
	}
	return sum / complex(n/2, 0)
}

// followPhase demodulates window by window and joins the phases: peaks of
// current stand at whole numbers.
func followPhase(x []float64, rate, f float64, from, to int) pulseTrack {
	t := pulseTrack{phase: make([]float64, len(x)), from: from, to: to, perSec: f}
	for i := range t.phase {
		t.phase[i] = math.NaN()
	}
	half := int(3 * rate / f)
	step := max(1, int(rate/f/4))
	last, lastAt := 0.0, -1
	for i := from + half; i+half <= to; i += step {
		raw := cmplx.Phase(demodulate(x, rate, f, i-half, i+half))/(2*math.Pi) + f*float64(i)/rate
		if lastAt < 0 {
			last = raw
		} else {
			expect := last + f*float64(i-lastAt)/rate
			raw += math.Round(expect - raw)
			for k := lastAt; k <= i; k++ {
				t.phase[k] = last + (raw-last)*float64(k-lastAt)/float64(i-lastAt)
			}
		}
		last, lastAt = raw, i
	}
	return t
}

// peaks are the swing of the current at each compression.
type peaks struct {
	mean, dev []float64 // by slot, mean and its standard deviation
	count     int
	blur      float64 // what the swing misses, as a share of a good one
}

// What a swing misses of a compression, and what it does when a capacitor lets
// a low one spoil the next.
const (
	directBlur  = 0.02
	coupledBlur = 0.05
)

// fitPeaks measures the swing of each compression (its highest value above the
// troughs beside it) and sorts them by place in the cycle.
func (a *analysis) fitPeaks(x []float64, rate float64, t pulseTrack, marks []float64) peaks {
	l := a.setup.Layout
	n := l.N()
	heights := swingsOf(x, t)
	first := a.nameByMarks(t, rate, marks)
	classes := make([][]float64, n)
	for k, h := range heights {
		classes[wrapIndex(k-first, n)] = append(classes[wrapIndex(k-first, n)], h)
	}
	p := peaks{mean: make([]float64, n), dev: make([]float64, n), count: len(heights), blur: directBlur}
	if coupled(x[t.from:t.to], rate) {
		p.blur = coupledBlur
	}
	for slot, c := range classes {
		d := describe(c)
		p.mean[slot] = d.median
		p.dev[slot] = 1.25 * d.dev / math.Sqrt(float64(max(1, d.n)))
	}
	a.tops = make([]float64, n)
	for k := range n {
		a.tops[k] = cycleDeg * float64(k) / float64(n)
		a.order = append(a.order, k)
	}
	return p
}

// swingsOf is the height of each whole compression, by its number.
func swingsOf(x []float64, t pulseTrack) map[int]float64 {
	type span struct{ high, before, after float64 }
	spans := map[int]*span{}
	for i := t.from; i < t.to; i++ {
		p := t.phase[i]
		if math.IsNaN(p) {
			continue
		}
		k := int(math.Round(p))
		s := spans[k]
		if s == nil {
			s = &span{math.Inf(-1), math.Inf(1), math.Inf(1)}
			spans[k] = s
		}
		switch off := p - float64(k); {
		case off < -0.25:
			s.before = min(s.before, x[i])
		case off > 0.25:
			s.after = min(s.after, x[i])
		default:
			s.high = max(s.high, x[i])
		}
	}
	out := map[int]float64{}
	for k, s := range spans {
		if h := s.high - (s.before+s.after)/2; !math.IsInf(h, 0) && !math.IsNaN(h) {
			out[k] = h
		}
	}
	return out
}

// peakBeforeTop is how far before top dead centre the current peaks, degrees:
// the crank is slowest there, and an armature draws the more the slower it
// turns. From the starter model of the practice engine and of this package.
const peakBeforeTop = 5.0

// mostBeside is how far beside a compression, of the angle between two, a reference
// may put top dead centre: half way to the next it would name either.
const mostBeside = 0.3

// nameByMarks finds which compression of the track is the first of the firing
// order, from marks once per cycle.
func (a *analysis) nameByMarks(t pulseTrack, rate float64, marks []float64) int {
	l := a.setup.Layout
	n := l.N()
	if len(a.setup.References) == 0 {
		return 0
	}
	ref := a.setup.References[0]
	perFiring := cycleDeg / float64(n)
	votes := make([]int, n)
	var beside complex128
	for _, m := range marks {
		i := int(m * rate)
		if i < 0 || i >= len(t.phase) || math.IsNaN(t.phase[i]) {
			continue
		}
		top := t.phase[i] + (ref.Deg-peakBeforeTop)/perFiring // of the reference cylinder
		votes[wrapIndex(int(math.Round(top))-l.Position(ref.Cylinder), n)]++
		beside += cmplx.Rect(1, 2*math.Pi*top)
	}
	best := 0
	for k, v := range votes {
		if v > votes[best] {
			best = k
		}
	}
	cast := sum(votes)
	if off := cmplx.Phase(beside) / (2 * math.Pi); l.Even() && 3*cmplx.Abs(beside) > 2*float64(cast) && math.Abs(off) > mostBeside {
		where := "later"
		if off > 0 {
			where = "earlier"
		}
		a.nameNobody(fmt.Sprintf("%s, but the current peaks %.0f° %s, or that and some firings more: check the angle and from which edge it counts. Until then no cylinder is named.",
			ref.words(), math.Abs(off)*perFiring, where))
	} else if votes[best] >= 2 && 3*votes[best] >= 2*cast { // marks at odds name nobody
		a.how = named
	}
	return best
}

// currentResult judges the swings like cranking speed does.
func (a *analysis) currentResult(p peaks) *Compression {
	n := len(p.mean)
	q := newQuadratic(n)
	scale := upperMiddle(p.mean)
	for k := range n {
		s := math.Hypot(p.dev[k], p.blur*scale)
		q.info.SetSym(k, k, 1/(s*s))
		q.score.SetVec(k, p.mean[k]/(s*s))
	}
	a.patterns = candidatePatterns(n)
	post, full := compressionPosterior(q, a.patterns, scale)
	a.post = post
	rel, dev := relativeTo(q, full[a.post.best], a.post.best, lowSpread)
	out := a.compressionOf(rel, dev)
	out.Finding.Analysis = CurrentVersion
	out.Finding.Notes = append(a.notes, evenlyLow, fmt.Sprintf("%d compressions were weighed.", p.count))
	if a.how != named && len(a.notes) == 0 {
		out.Finding.Notes = append(out.Finding.Notes, "No cylinder can be named without a mark of the cycle: record a cam edge or one cylinder's signal beside the current.")
	}
	return out
}
