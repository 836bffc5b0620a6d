package crank

import (
	"fmt"
	"math"
	"slices"
)

// Recording is what was picked up at the crank: edges in seconds, ascending.
type Recording struct {
	Crank []float64
	// Labels number each crank edge where the logger did: 0 to L−1 again and
	// again, over one turn or one cycle. Nil: not numbered.
	Labels []int
	// Cam are edges that repeat once per cycle as a pattern: the cam sensor, or
	// the spark of one cylinder. Nil: none.
	Cam []float64
}

// stretchOfCycles is a stretch of marks that begins with mark 0 of a cycle.
type stretchOfCycles struct {
	t      []float64
	filled []int // ascending indices of marks that were filled in
}

// clock knows the crank angle of every mark over two turns, and where the cam
// stands.
type clock struct {
	wheel    Wheel
	angles   []float64 // of the marks of one cycle, degrees, the first 0
	fromGap  float64   // angle of mark 0 of the cycle after mark 0 of the wheel
	parts    []stretchOfCycles
	camEdges []float64 // degrees in the cycle, ascending; empty without a cam
	camRef   float64   // degrees from mark 0 of the cycle to the reference edge
	nominal  bool      // learnt marks were replaced by known angles
	hasRef   bool      // the half of the cycle is known
	notes    []string
	decoded  decoded
}

// perCycle is the number of marks in two turns.
func (c *clock) perCycle() int { return len(c.angles) }

// minCycles is the least worth looking at.
const minCycles = 3

// buildClock decodes a recording: which mark each edge is, and, where a cam or
// the labels tell, which turn of the cycle.
func buildClock(w Wheel, rec Recording) (*clock, error) {
	if err := rec.check(); err != nil {
		return nil, err
	}
	if rec.Labels != nil {
		return labelledClock(w, rec)
	}
	dec, err := followed(w, rec)
	if err != nil {
		var ok bool
		if dec, ok = counted(w, rec); !ok {
			return nil, err
		}
	}
	return assemble(dec, rec.Cam)
}

// followed recognises a wheel and follows it from mark to mark.
func followed(w Wheel, rec Recording) (decoded, error) {
	w, err := recognise(w, rec.Crank, marksByCam(rec))
	if err != nil {
		return decoded{}, err
	}
	dec := follow(w, rec.Crank)
	if n := longest(dec.runs); n < minCycles*2*len(w.Angles) {
		return decoded{}, fmt.Errorf("the wheel %s does not fit %d edges: %s", w, len(rec.Crank), seen(rec.Crank))
	}
	return dec, dec.trusted()
}

// spoiltMarks is the share of pulses and missed marks from which a wheel of few
// marks without a gap is not believed: one taken for another moves everything
// after it.
const spoiltMarks = 0.01

func (d decoded) trusted() error {
	marks := 0
	for _, r := range d.runs {
		marks += len(r.t)
	}
	bad := d.spurious + d.missed
	if len(d.wheel.Angles) > fewMarks || len(d.wheel.Gaps) > 0 || float64(bad) <= spoiltMarks*float64(marks) {
		return nil
	}
	return fmt.Errorf("%d pulses too many and %d marks missing among %d: with only %d marks a turn these edges cannot be followed; look at the sensor and its wires",
		d.spurious, d.missed, marks, len(d.wheel.Angles))
}

func (r Recording) check() error {
	if len(r.Crank) < 8 {
		return fmt.Errorf("%d crank edges are too few, at least %d full cycles are needed", len(r.Crank), minCycles)
	}
	if r.Labels != nil && len(r.Labels) != len(r.Crank) {
		return fmt.Errorf("%d labels for %d crank edges: one per edge is needed", len(r.Labels), len(r.Crank))
	}
	last := math.Inf(-1)
	for i, t := range r.Crank {
		if !(t > last || i == 0) { // negated so that NaN fails too
			return fmt.Errorf("crank edge %d does not come after the one before (%g s, then %g s)", i+1, last, t)
		}
		last = t
	}
	for i, t := range r.Cam {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return fmt.Errorf("cam edge %d is no time", i+1)
		}
	}
	if math.IsInf(r.Crank[0], 0) || math.IsInf(r.Crank[len(r.Crank)-1], 0) {
		return fmt.Errorf("a crank edge is at infinity")
	}
	return nil
}

// slowest and fastest are speeds, in rpm, beyond which no engine turns, not even
// by its starter.
const slowest, fastest = 20, 30_000

// turnsLikeAnEngine is an error when times in a wrong unit make the crank creep
// or fly.
func (c *clock) turnsLikeAnEngine() error {
	var rpm []float64
	for _, p := range c.parts {
		for base := 0; base+c.perCycle() < len(p.t); base += c.perCycle() {
			rpm = append(rpm, 120/(p.t[base+c.perCycle()]-p.t[base]))
		}
	}
	if len(rpm) == 0 {
		return nil
	}
	if mid := median(rpm); mid < slowest || mid > fastest {
		return fmt.Errorf("the crank would turn at %.3g rpm: are the times in another unit (--unit us, --tick 1e-6)?", mid)
	}
	return nil
}

func longest(runs []run) (n int) {
	for _, r := range runs {
		n = max(n, len(r.t))
	}
	return n
}

// marksByCam is how many crank edges pass in half a cam cycle, 0 if unclear.
// The cam pattern is not known yet: the smallest number of cam edges after
// which the time between equal edges is always the same number of crank edges.
func marksByCam(rec Recording) int {
	at := passedAt(rec.Crank, rec.Cam[:min(len(rec.Cam), maxSurveyed)])
	for _, rule := range []countRule{fewExactly, roughly, mostly} {
		for p := 1; p <= 12 && len(at) >= 4*p; p++ {
			if n := usualCount(at, p, rule); n > 0 {
				return n / 2
			}
		}
	}
	return 0
}

// countRule is how often the crank edges between cam edges must be as many.
type countRule int

const (
	fewExactly countRule = iota // in 85 %, and the wheel has few marks
	roughly                     // in 85 %, one more or less allowed: a cam edge beside a crank edge falls now before, now after it
	mostly                      // in 55 %: marks missed and pulses spoil the rest
)

// usualCount is the even number by which at grows over p places as often as the
// rule asks; 0 if there is none.
func usualCount(at []int, p int, rule countRule) int {
	counts := map[int]int{}
	for i := p; i < len(at); i++ {
		counts[at[i]-at[i-p]]++
	}
	best := 0
	for n, times := range counts {
		if n > 0 && n%2 == 0 && (times > counts[best] || times == counts[best] && n < best) {
			best = n
		}
	}
	times, of, few := counts[best], len(at)-p, best <= 2*fewMarks
	enough := 20*times > 17*of
	switch rule {
	case fewExactly:
		enough = enough && few
	case roughly:
		if !few || 20*times > 9*of { // few marks: one more and one less may follow one another
			enough = 20*(times+counts[best-1]+counts[best+1]) > 17*of
		}
	case mostly:
		enough = 20*times > 11*of
	}
	if best > 0 && enough {
		return best
	}
	return 0
}

// assemble aligns the runs to cycles.
func assemble(dec decoded, cam []float64) (*clock, error) {
	c := &clock{wheel: dec.wheel, decoded: dec}
	m := len(dec.wheel.Angles)
	slices.SortStableFunc(dec.runs, func(a, b run) int { return len(b.t) - len(a.t) })
	for _, r := range dec.runs {
		if len(r.t) < 2*2*m {
			continue
		}
		if !c.align(r, cam) {
			c.notes = append(c.notes, fmt.Sprintf("%d marks after a lost wheel were left out: no cam joins them to the rest", len(r.t)))
		}
	}
	if len(c.parts) == 0 {
		return nil, fmt.Errorf("no stretch of at least %d full cycles was found", minCycles)
	}
	slices.SortFunc(c.parts, func(a, b stretchOfCycles) int {
		if a.t[0] < b.t[0] {
			return -1
		}
		return 1
	})
	return c, nil
}

// align cuts a run so that it begins with mark 0 of a cycle. The first run
// (the longest) decides where the cycle begins; later ones follow by the cam.
func (c *clock) align(r run, cam []float64) bool {
	m := len(c.wheel.Angles)
	edges, ref, ok := camPattern(c.wheel, r, cam)
	if len(c.parts) > 0 && (!ok || !c.hasRef) {
		return false
	}
	start := 0
	if len(c.parts) == 0 {
		start = c.chooseStart(r, edges, ref, ok)
	} else {
		start = c.matchStart(r, ref)
	}
	if start+2*m > len(r.t) {
		return false
	}
	part := stretchOfCycles{t: r.t[start:]}
	for _, i := range r.filled {
		if i >= start {
			part.filled = append(part.filled, i-start)
		}
	}
	c.parts = append(c.parts, part)
	return true
}

// angleOf is the angle of entry i of a run, from mark 0 of its first turn.
func angleOf(w Wheel, r run, i int) float64 {
	n := r.first + i
	m := len(w.Angles)
	return turnDeg*float64(n/m) + w.Angles[n%m]
}

// chooseStart lets the cycle begin with the first mark after the cam reference
// edge, on wheels with a gap with the first mark after that gap.
func (c *clock) chooseStart(r run, edges []float64, ref float64, ok bool) int {
	m := len(c.wheel.Angles)
	start := (m - r.first) % m // mark 0 of the first whole turn
	c.hasRef = ok
	if ok {
		for i := 0; i < 2*m; i++ {
			if len(c.wheel.Gaps) > 0 && (r.first+i)%m != 0 {
				continue
			}
			if d := wrapCycle(angleOf(c.wheel, r, i) - ref); d < wrapCycle(angleOf(c.wheel, r, start)-ref) {
				start = i
			}
		}
	}
	zero := angleOf(c.wheel, r, start)
	c.fromGap = math.Mod(zero, turnDeg)
	for k := range 2 * m {
		c.angles = append(c.angles, angleOf(c.wheel, r, start+k)-zero)
	}
	for _, e := range edges {
		c.camEdges = append(c.camEdges, wrapCycle(e-zero))
	}
	slices.Sort(c.camEdges)
	c.camRef = wrapCycle(ref - zero)
	return start
}

// matchStart finds the mark of another run that makes its cam reference edge
// fall where the first run had it.
func (c *clock) matchStart(r run, ref float64) int {
	m := len(c.wheel.Angles)
	p := symmetry(c.wheel)
	best, start := math.Inf(1), 0
	zero := slices.IndexFunc(c.wheel.Angles, func(a float64) bool { return math.Abs(a-c.fromGap) < 1e-6 })
	for i := 0; i < 2*m && i < len(r.t); i++ {
		if (r.first+i-zero+2*m)%p != 0 {
			continue
		}
		off := wrapCycle(ref - angleOf(c.wheel, r, i) - c.camRef)
		if off = min(off, cycleDeg-off); off < best {
			best, start = off, i
		}
	}
	return start
}

// symmetry is the number of marks after which the wheel looks the same. Learnt
// steps carry the engine's own unevenness and may differ more.
func symmetry(w Wheel) int {
	steps := w.steps()
	alike := 0.05
	if w.Learn {
		alike = 0.15
	}
	for p := 1; p < len(steps); p++ {
		same := true
		for k := range steps {
			if math.Abs(steps[k]-steps[(k+p)%len(steps)]) > alike*steps[k] {
				same = false
				break
			}
		}
		if same {
			return p
		}
	}
	return len(steps)
}

func wrapCycle(a float64) float64 {
	if a >= 0 && a < cycleDeg {
		return a
	}
	a = math.Mod(a, cycleDeg)
	if a < 0 {
		a += cycleDeg
	}
	return a
}
