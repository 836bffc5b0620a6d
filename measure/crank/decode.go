package crank

import (
	"math"
	"slices"
)

// Shares of the expected interval within which an edge is the next mark: below
// it is a spurious pulse, above it marks were missed. Few-mark wheels see the
// speed change much between marks (2:1 while cranking), toothed ones little.
const (
	toothLow, toothHigh = 0.62, 1.55
	fewLow, fewHigh     = 0.5, 1.8
)

// maxMissed is how many marks in a row may be filled in before the decoder
// gives up and looks for the wheel anew.
const maxMissed = 6

// run is a stretch of marks counted without a slip.
type run struct {
	first  int       // number within the turn of T[0]
	t      []float64 // seconds, one per mark, missed ones filled in
	filled []int     // indices into t that were filled in

	source []float64 // the edges it was read from, as long as t is a piece of them
	from   int       // where in source that piece begins
}

// extend adds n marks that are the next edges of the source. While nothing was
// left out or filled in, t stays a piece of the source: ten million edges are
// not copied.
func (r *run) extend(n int) {
	to := r.from + len(r.t) + n
	r.t = r.source[r.from:to:to]
}

// detach makes t a list of its own with room for the rest of the source.
func (r *run) detach() {
	if r.source == nil {
		return
	}
	own := make([]float64, len(r.t), len(r.source)-r.from+len(r.t)/16)
	copy(own, r.t)
	r.t, r.source = own, nil
}

// add appends a mark; own tells that it is the next edge of the source.
func (r *run) add(t float64, own bool) {
	if own && r.source != nil {
		r.extend(1)
		return
	}
	r.detach()
	r.t = append(r.t, t)
}

// decoder follows a wheel with known angles through its edges.
type decoder struct {
	steps     []float64 // degrees from mark k to the next
	likeUntil []int     // the steps from k up to before this one are as long as the one before k
	low, high float64

	mark int     // number of the last mark within the turn
	last float64 // its time
	pace
	faults int // spurious and missed in this turn
	bad    int // turns in a row with many faults

	gap       float64 // steps at least so long are gaps; 0: the wheel has none
	gapMarks  int     // places missing in the smallest gap
	inGap     int     // edges in this turn where a gap should be
	elsewhere bool    // a gap in this turn where teeth should be
	slipped   int     // turns in a row with both
	doubtful  []int   // marks of this turn that may be a pulse in the gap before them
	out       *run

	spurious, missed int
}

// pace predicts the next interval from the last ones: speed and how it changes.
type pace struct {
	slowness float64 // seconds per degree
	growth   float64 // relative change per degree
	last     float64 // degrees of the last step
	latest   float64 // seconds per degree of the last step alone
}

func newPace(dt, step float64) pace { return pace{slowness: dt / step, last: step, latest: dt / step} }

// ratio is an interval over what it should be: by speed and its change, or, at
// the turning point of a compression, by the last interval alone, whichever
// fits.
func (p *pace) ratio(dt, step, low, high float64) float64 {
	r := dt / p.expect(step)
	if r < low || r > high {
		if plain := dt / (step * p.latest); plain >= low && plain <= high {
			return plain
		}
	}
	return r
}

// expect is the time the next step should take.
func (p *pace) expect(step float64) float64 {
	change := 1 + p.growth*(p.last+step)/2
	return step * p.slowness * min(max(change, 0.6), 1.7)
}

// learn takes an interval into the pace.
func (p *pace) learn(dt, step float64) {
	s := dt / step
	p.latest = s
	g := (s/p.slowness - 1) / ((p.last + step) / 2)
	p.growth += 0.5 * (g - p.growth)
	p.slowness += 0.7 * (s - p.slowness)
	p.last = step
}

func newDecoder(w Wheel) *decoder {
	d := &decoder{steps: w.steps(), low: toothLow, high: toothHigh}
	if len(d.steps) <= fewMarks {
		d.low, d.high = fewLow, fewHigh
	}
	d.likeUntil = make([]int, len(d.steps))
	for k := len(d.steps) - 2; k >= 0; k-- { // the last step ends the turn
		if d.likeUntil[k] = k; k > 0 && math.Abs(d.steps[k]-d.steps[k-1]) < 1e-6 {
			d.likeUntil[k] = max(k+1, d.likeUntil[k+1])
		}
	}
	d.likeUntil[len(d.steps)-1] = len(d.steps) - 1
	if n := len(d.steps); n > fewMarks {
		usual, widest := median(d.steps), slices.Max(d.steps)
		if widest > 1.4*usual {
			d.gap = widest
			for _, step := range d.steps {
				if step > 1.4*usual {
					d.gap = min(d.gap, step)
				}
			}
			d.gapMarks = int(math.Round(d.gap/usual)) - 1
		}
	}
	return d
}

// start puts the decoder on mark number mark at time t, the next edge at next.
func (d *decoder) start(mark int, t, next float64, sink *run) {
	d.mark, d.last, d.out = mark, t, sink
	d.pace = newPace(next-t, d.steps[mark])
	d.faults, d.bad, d.slipped, d.inGap, d.elsewhere = 0, 0, 0, 0, false
	d.doubtful = d.doubtful[:0]
	sink.first = mark
	sink.add(t, true)
}

// early is the share of the expected interval below which an edge is looked at
// twice: the one after it may be the mark instead.
const early = 0.92

// push takes the next edge, with the two after it in view; false means that the
// wheel is lost.
func (d *decoder) push(ahead []float64) bool {
	t := ahead[0]
	dt := t - d.last
	r := d.ratio(dt, d.steps[d.mark], d.low, d.high)
	if d.atGap() && r < early && r >= d.low && d.betterAfter(r, ahead) {
		r = 0
	}
	if r >= d.low && r <= d.high && len(d.steps) <= fewMarks {
		r = d.asBefore(r, ahead)
	}
	if r >= d.low && r <= d.high {
		doubt := d.atGap() && (r < early || r > 1/early)
		at := len(d.out.t)
		d.accept(t, dt, true)
		if doubt {
			d.doubtful = append(d.doubtful, at)
		}
		return true
	}
	d.faults++
	d.out.detach()
	if r < d.low {
		d.spurious++
		if d.atGap() {
			d.inGap++
		}
		return d.sane()
	}
	return d.bridge(t) && d.sane()
}

// atGap reports whether the next mark is expected after a gap among teeth.
func (d *decoder) atGap() bool { return d.gap > 0 && d.steps[d.mark] >= d.gap }

// speedsUp is the share of the expected interval down to which a gap may be
// shortened by a crank that the starter frees from a compression.
const speedsUp = 0.75

// betterAfter reports whether the edge after an early one is nearer to where the
// mark should be, and too near to be the mark that follows. Two steps after it
// that are alike tell that it is a mark and the crank speeds up.
func (d *decoder) betterAfter(r float64, ahead []float64) bool {
	if len(ahead) < 2 {
		return false
	}
	t, after := ahead[0], ahead[1]
	if r > speedsUp && len(ahead) > 2 && math.Abs(math.Log((ahead[2]-after)/(after-t))) < 0.1 {
		return false
	}
	step := d.steps[d.mark]
	next := d.steps[(d.mark+1)%len(d.steps)]
	return math.Abs(math.Log((after-d.last)/d.expect(step))) < -math.Log(r) && after-t < 0.8*d.slowness*next
}

func (d *decoder) accept(t, dt float64, own bool) {
	d.learn(dt, d.steps[d.mark])
	d.last = t
	d.mark++
	if d.mark == len(d.steps) {
		d.mark = 0
		d.turn()
	}
	d.out.add(t, own)
}

func (d *decoder) turn() {
	if d.faults > 2+len(d.steps)/20 {
		d.bad++
	} else {
		d.bad = 0
	}
	if d.inGap > 0 && d.elsewhere {
		d.slipped++
	} else {
		d.slipped = 0
	}
	if d.faults > 0 { // a pulse taken for a mark shifts the turn until the next gap
		d.out.filled = append(d.out.filled, d.doubtful...)
	}
	d.doubtful = d.doubtful[:0]
	d.faults, d.inGap, d.elsewhere = 0, 0, false
}

// sane is false after turns in a row with more faults than noise makes.
func (d *decoder) sane() bool {
	return d.slipped < d.mostSlipped() && d.bad < 3 && d.faults <= 4+len(d.steps)/2
}

// mostSlipped is after how many turns with teeth in the gap and a gap among the
// teeth the wheel is taken for lost. A gap of one is easily feigned by one
// missed tooth.
func (d *decoder) mostSlipped() int {
	if d.gapMarks > 1 {
		return 4
	}
	return 6
}

// bridge fills in missed marks up to an edge that came late.
func (d *decoder) bridge(t float64) bool {
	span, k := 0.0, 0
	dt := t - d.last
	for best := math.Inf(1); k <= maxMissed; k++ {
		span += d.steps[(d.mark+k)%len(d.steps)]
		off := math.Abs(math.Log(dt / (span * d.slowness)))
		if off > best {
			break
		}
		best = off
	}
	if k > maxMissed {
		return false
	}
	span -= d.steps[(d.mark+k)%len(d.steps)] // the better one was the step before
	s := dt / span
	if d.gap > 0 && k-1 >= d.gapMarks {
		d.elsewhere = true
	}
	for range k - 1 {
		d.missed++
		d.out.filled = append(d.out.filled, len(d.out.t))
		next := d.last + s*d.steps[d.mark]
		d.accept(next, next-d.last, false)
	}
	d.accept(t, t-d.last, false)
	return true
}

// decoded is a wheel followed through a recording.
type decoded struct {
	wheel            Wheel
	runs             []run
	spurious, missed int
	lost             int // how often the wheel had to be found anew
}

// follow decodes all edges of a wheel with known angles.
func follow(w Wheel, edges []float64) decoded {
	out := decoded{wheel: w}
	d := newDecoder(w)
	m := len(w.Angles)
	for i := 0; i+m+2 < len(edges); {
		skip, mark, ok := lock(w, edges[i:])
		if !ok {
			i += max(1, m/2)
			continue
		}
		i += skip
		r := run{source: edges, from: i}
		d.start(mark, edges[i], edges[i+1], &r)
		for i++; i < len(edges) && d.push(edges[i:min(i+3, len(edges))]); {
			i++
			i += d.glide(edges[i:])
		}
		slices.Sort(r.filled)
		out.runs = append(out.runs, r)
		if i < len(edges) {
			out.lost++
		}
	}
	out.spurious, out.missed = d.spurious, d.missed
	return out
}
