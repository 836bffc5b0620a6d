package crank

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"halforder/engine"
	"halforder/finding"
)

// Setup is what is known of the engine and its wheel before a recording.
type Setup struct {
	Layout     engine.Layout
	Wheel      Wheel       // zero: find out
	References []Reference // none: the wheel table is asked, else no names
}

// Result is everything the crank tells of a running engine.
type Result struct {
	Finding  finding.Finding
	Firings  []Firing // in time order
	Misses   []Miss
	Stumbles []Stumble
	Wheel    Wheel
	Cam      []float64 // cam edges of one cycle, degrees after the reference edge

	dead, missing []engine.Cylinder
}

// Firing is one firing weighed.
type Firing struct {
	Seconds  float64 // time of its top dead centre in the recording
	RPM      engine.RPM
	Position int     // firing position
	Work     float64 // 1: a healthy cylinder's; 0: none
	Miss     bool
}

// Miss is a firing that gave nothing or nearly.
type Miss struct {
	Seconds  float64
	Position int // firing position; of the pattern only when anonymous
	Label    string
	Work     float64 // of a healthy cylinder's
}

// analysis carries one recording through the steps.
type analysis struct {
	setup    Setup
	clock    *clock
	bins     []bin
	tops     []float64 // ascending in the cycle
	order    []int     // firing position of each top
	how      naming
	guessed  bool
	scales   *scales
	firings  []firing
	stats    map[int][]slotStats
	judged   []judgement
	patterns []slotPattern
	post     posterior
	weighed  []weighed
	misses   missModel
	stumbled int
	tallied  []tally
	notes    []string
	known    *knownWheel // from the table; nil: none
	noTable  bool        // do not ask the wheel table
}

// Analyse weighs a running engine.
func Analyse(s Setup, rec Recording) (*Result, error) {
	a, err := prepare(s, rec)
	if err != nil {
		return nil, err
	}
	a.weigh()
	a.judge()
	a.count()
	return a.result(), nil
}

func prepare(s Setup, rec Recording) (*analysis, error) {
	if !s.Layout.Valid() {
		return nil, errNoEngine
	}
	for _, r := range s.References {
		if err := s.Layout.Check(r.Cylinder); err != nil {
			return nil, fmt.Errorf("reference %d:%g: %w", r.Cylinder, r.Deg, err)
		}
	}
	c, err := buildClock(s.Wheel, rec)
	if err != nil {
		return nil, err
	}
	a := &analysis{setup: s, clock: c, notes: c.notes}
	a.recogniseWheel(whileRunning)
	a.bins = profiles(c)
	if len(a.bins) == 0 {
		return nil, errTooShort
	}
	return a, nil
}

// weigh places the firings and weighs them all.
func (a *analysis) weigh() {
	l := a.setup.Layout
	guess, guessed := guessTops(a.clock, a.bins, l)
	zero, how := place(a.clock, l, a.references(), guess, guessed)
	a.how, a.guessed = how, guessed || how != anonymous
	if !a.guessed {
		zero = a.searchTops()
	}
	a.tops, a.order = topsOf(l, zero)
	a.scales = &scales{angles: a.clock.angles, tops: a.tops, jitter: edgeJitter(a.clock), banks: map[int]*bank{}, bins: map[int]bool{}}
	for _, b := range a.bins { // and the neighbours, for cycles that begin or end there
		for k := -1; k <= 1; k++ {
			a.scales.bins[binOf(b.rpm)+k] = true
		}
	}
	a.firings = a.scales.weighAll(a.clock)
	byBin := map[int][]firing{}
	for _, f := range a.firings {
		if f.whole {
			byBin[int(f.bin)] = append(byBin[int(f.bin)], f)
		}
	}
	a.stats = map[int][]slotStats{}
	for b, f := range byBin {
		a.stats[b] = statsBySlot(f, len(a.tops))
	}
}

// searchTops tries firings all over one interval and takes the place where the
// mean cycles are explained best by one fault: a miss shows where the speed
// falls. Two faults could explain the middle between two firings.
func (a *analysis) searchTops() float64 {
	const tries = 18
	gap := cycleDeg / float64(a.setup.Layout.N())
	best, zero := math.Inf(-1), 0.0
	for i := range tries {
		z := gap * float64(i) / tries
		tops, _ := topsOf(a.setup.Layout, z)
		patterns := singlePatterns(len(tops))
		total := 0.0
		for _, j := range judgeBins(a.clock, mainBins(a.bins, 2), tops, patterns, nil) {
			top := math.Inf(-1)
			for p, l := range j.log {
				top = max(top, l+logPrior(p))
			}
			total += top
		}
		if total > best {
			best, zero = total, z
		}
	}
	return zero
}

// mainBins are the bins with most cycles, at most n, slowest first.
func mainBins(bins []bin, n int) []bin {
	s := slices.Clone(bins)
	slices.SortStableFunc(s, func(x, y bin) int { return y.cycles - x.cycles })
	s = s[:min(n, len(s))]
	slices.SortFunc(s, func(x, y bin) int {
		if x.rpm < y.rpm {
			return -1
		}
		return 1
	})
	return s
}

// mostBins bounds how many speed bins are judged.
const mostBins = 6

func (a *analysis) judge() {
	a.patterns = candidatePatterns(len(a.tops))
	scatters := map[int]scatter{}
	for _, b := range a.bins {
		scatters[binOf(b.rpm)] = scatterOf(a.stats[binOf(b.rpm)])
	}
	a.judged = judgeBins(a.clock, mainBins(a.bins, mostBins), a.tops, a.patterns, scatters)
	a.post = weighPatterns(a.judged, a.patterns)
}

// scatterOf is the usual scatter of one position's work.
func scatterOf(stats []slotStats) (out scatter) {
	var dev, mean []float64
	for _, s := range stats {
		if s.n > 3 {
			dev = append(dev, s.dev)
			mean = append(mean, 1.5*s.dev/math.Sqrt(float64(s.n))) // cycles follow one another not quite independently
		}
	}
	if len(dev) == 0 {
		return out
	}
	return scatter{median(dev), median(mean)}
}

// judgeBins judges each bin with the mark errors learnt from all others. Without
// scatters it searches for the place of the firings and takes shapes loosely.
func judgeBins(c *clock, bins []bin, tops []float64, patterns []slotPattern, scatters map[int]scatter) []judgement {
	m := newModel(c, tops)
	m.searching = scatters == nil
	says := make([]quadratic, len(bins))
	total := newQuadratic(len(c.wheel.Angles))
	for i, b := range bins {
		if len(bins) > 1 {
			says[i] = spacingSaid(m, b, len(tops))
			total.add(says[i])
		}
	}
	var out []judgement
	for i, b := range bins {
		mean, cov := make([]float64, len(b.late)), m.prior
		if len(bins) > 1 {
			others := newQuadratic(len(c.wheel.Angles))
			others.add(total)
			others.sub(says[i])
			mean, cov = m.learntSpacing(others)
		}
		work := workSaid(m, b, mean, cov)
		out = append(out, judgeBin(b, work, patterns, scatters[binOf(b.rpm)]))
	}
	return out
}

// lateFloor is the lateness no model explains, degrees.
const lateFloor = 0.004

func (b bin) noise() float64 {
	return b.spread*b.spread/float64(b.cycles) + lateFloor*lateFloor
}

// spacingSaid is what a bin tells of the mark errors when any cylinder may be
// anything.
func spacingSaid(m model, b bin, cylinders int) quadratic {
	v := m.around(b)
	s := 0.5 * fullWork(cylinders, b.rpm)
	addOuter(v, m.work, scaledIdentity(cylinders, s*s))
	return say(m.spacing, b.late, v)
}

// around is the covariance of a bin's noise and common swing.
func (m model) around(b bin) *mat.SymDense {
	n := len(b.late)
	v := mat.NewSymDense(n, nil)
	for i := range n {
		v.SetSym(i, i, b.noise())
	}
	_, k := m.common.Dims()
	swing := max(commonSpread, 3*rms(b.late))
	addOuter(v, m.common, scaledIdentity(k, swing*swing))
	_, firings := m.work.Dims()
	_, k = m.stray.Dims()
	full := fullWork(firings, b.rpm)
	if m.searching {
		full = max(full, rms(b.late)/lateByDead)
	}
	addOuter(v, m.stray, scaledIdentity(k, full*full))
	return v
}

// lateByDead is the root mean square lateness, in degrees, that a dead cylinder
// leaves per relative energy of its work (from cycleDelay).
const lateByDead = 16.0

func rms(v []float64) float64 {
	return math.Sqrt(mat.Dot(mat.NewVecDense(len(v), v), mat.NewVecDense(len(v), v)) / float64(len(v)))
}

// workSaid is what a bin tells of the firings' work, given the mark errors.
func workSaid(m model, b bin, spacing []float64, cov mat.Symmetric) quadratic {
	v := m.around(b)
	addOuter(v, m.spacing, cov)
	late := make([]float64, len(b.late))
	for i := range late {
		late[i] = b.late[i] - spacing[i]
	}
	return say(m.work, late, v)
}

// learntSpacing is the lateness that the learnt mark errors cause at each mark
// of the cycle, and the covariance left of the errors.
func (m model) learntSpacing(q quadratic) ([]float64, *mat.SymDense) {
	n := q.score.Len()
	var chol mat.Cholesky
	var precision mat.SymDense
	cov := mat.NewSymDense(n, nil)
	if !chol.Factorize(m.prior) || chol.InverseTo(&precision) != nil {
		return make([]float64, 2*n), m.prior
	}
	precision.AddSym(&precision, q.info)
	if !chol.Factorize(&precision) {
		return make([]float64, 2*n), m.prior
	}
	if err := chol.InverseTo(cov); err != nil && !isCondition(err) {
		return make([]float64, 2*n), m.prior
	}
	var errs, late mat.VecDense
	errs.MulVec(cov, q.score)
	late.MulVec(m.spacing, &errs)
	return late.RawVector().Data, cov
}

// count finds the single misses.
func (a *analysis) count() {
	levels := map[int]binLevels{}
	for _, j := range a.judged {
		b := binOf(j.rpm)
		stats := a.stats[b]
		bk := a.scales.bankFor(b)
		if stats == nil || bk == nil {
			continue
		}
		mean, full := j.meanWork(a.patterns, a.post)
		levels[b] = levelsOf(stats, bk, mean, a.post.best, full, j.rpm)
	}
	a.weighed, a.misses = detect(a.firings, levels, a.scales)
}
