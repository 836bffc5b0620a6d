package crank

import (
	"fmt"
	"math"
	"slices"

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
	setup   Setup
	clock   *clock
	bins    []bin
	tops    []float64 // ascending in the cycle
	order   []int     // firing position of each top
	how     naming
	guessed bool

	confirmed bool // the compressions are where the references have them
	misled    bool // references were given and not believed
	scales    *scales
	weighed   []firing // in time order; after count, those that could be judged
	stats     map[int][]slotStats
	judged    []judgement
	patterns  []slotPattern
	post      posterior
	misses    missModel
	stumbled  int
	tallied   []tally
	notes     []string
	known     *knownWheel // from the table; nil: none
	noTable   bool        // do not ask the wheel table
	byTable   bool        // the wheel table named the cylinders

	movedMarks bool // learnt marks were moved to where the model of cranking puts them
}

// Analyse weighs a running engine.
func Analyse(s Setup, rec Recording) (*Result, error) {
	a, err := prepare(s, rec)
	if err != nil {
		return nil, err
	}
	a.weigh()
	a.judge()
	a.checkPlaces()
	a.tune()
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
	if err := c.turnsLikeAnEngine(); err != nil {
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

// weigh places the firings and weighs as many as tell how they scatter.
func (a *analysis) weigh() {
	l := a.setup.Layout
	guess, guessed := guessTops(a.clock, a.bins, l)
	refs := a.references()
	zero, how := place(a.clock, l, refs, guess, guessed)
	doubt := disagree(a.clock, l, refs)
	if doubt == "" && guessed && how != anonymous {
		doubt = contradicts(a.clock, refs, l, zero, guess)
	}
	if doubt != "" {
		zero, how = guess, anonymous
		a.nameNobody(doubt)
	}
	a.how, a.guessed = how, guessed || how != anonymous
	a.confirmed = guessed && how != anonymous
	if !a.guessed {
		zero = a.searchTops()
	}
	a.weighAt(zero)
}

// nameNobody leaves the references out for a reason.
func (a *analysis) nameNobody(why string) {
	a.leaveOutTable()
	a.how, a.misled = anonymous, true
	a.notes = append(a.notes, why)
}

// weighAt weighs with the first firing of the order at an angle.
func (a *analysis) weighAt(zero float64) {
	a.tops, a.order = topsOf(a.setup.Layout, zero)
	a.scales = newScales(a.clock, a.bins, a.tops)
	a.weighed = a.scales.weighAll(a.clock, true)
	a.stats = statsByBin(a.weighed, len(a.tops))
}

// searchTops tries firings all over one interval and takes the place where the
// mean cycles are explained best by one fault: a miss shows where the speed
// falls. Two faults could explain the middle between two firings.
func (a *analysis) searchTops() float64 {
	const tries = 18
	gap := cycleDeg / float64(a.setup.Layout.N())
	jitter := edgeJitter(a.clock)
	best, zero := math.Inf(-1), 0.0
	for i := range tries {
		z := gap * float64(i) / tries
		tops, _ := topsOf(a.setup.Layout, z)
		patterns := singlePatterns(len(tops))
		total := 0.0
		for _, j := range judgeBins(a.clock, jitter, mainBins(a.bins, 2), tops, patterns, nil) {
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
	s := byCycles(bins)
	s = s[:min(n, len(s))]
	slices.SortFunc(s, func(x, y bin) int {
		if x.rpm < y.rpm {
			return -1
		}
		return 1
	})
	return s
}

// byCycles are the bins with most cycles first.
func byCycles(bins []bin) []bin {
	s := slices.Clone(bins)
	slices.SortStableFunc(s, func(x, y bin) int { return y.cycles - x.cycles })
	return s
}

// mostBins bounds how many speed bins are judged.
const mostBins = 6

func (a *analysis) judge() {
	a.patterns = candidatePatterns(len(a.tops))
	scatters := map[int]scatter{}
	for _, b := range a.bins {
		sc := scatterOf(a.stats[binOf(b.rpm)], a.scales.jitterScatter(binOf(b.rpm), b.rpm))
		sc.swing = swingOf(a.clock, b, a.tops)
		scatters[binOf(b.rpm)] = sc
	}
	a.judged = judgeBins(a.clock, a.scales.jitter, mainBins(a.bins, mostBins), a.tops, a.patterns, scatters)
	a.post = weighPatterns(a.judged, a.patterns)
}

// scatterOf is the usual scatter of one position's work, of which the jitter of
// the edges makes a part.
func scatterOf(stats []slotStats, jitter float64) (out scatter) {
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
	cycle := median(dev)
	return scatter{cycle: cycle, mean: median(mean), real: math.Sqrt(max(0, cycle*cycle-jitter*jitter))}
}

// count finds the single misses.
func (a *analysis) count() {
	levels, cycles := map[int]binLevels{}, map[int]int{}
	for _, j := range a.judged {
		b := binOf(j.rpm)
		stats := a.stats[b]
		bk := a.scales.bankFor(b)
		if stats == nil || bk == nil {
			continue
		}
		mean, full := j.meanWork(a.believed())
		levels[b], cycles[b] = levelsOf(stats, bk, mean, a.steadilyDead(), full, j.rpm), j.cycles
	}
	levels = lendLevels(levels, cycles, a.stats)
	a.weighed, a.misses = detect(a.weighed, levels, a.scales)
}
