package crank

import (
	"math"
	"slices"
)

// bank is the weighers of all firing positions for one range of speeds.
type bank struct {
	window   window
	weighers []weigher
	gains    [][]float64 // [position][lag+window.before]: what a neighbour's work adds
	reach    int         // firings away within which one looks much like its neighbour
}

// view is a firing position and the firings before and after it that are seen.
type view struct{ position, before, after int }

// scales weighs whole recordings; it makes banks as speeds turn up.
type scales struct {
	angles, tops []float64
	jitter       float64         // seconds
	home         map[int]int     // by speed bin worth weighing: the bin whose weighers it shares
	speeds       map[int]float64 // mean rpm of those
	banks        map[int]*bank   // of those
	sights       map[view]*sight

	found map[int]float64      // full work found in a speed bin, as a share of fullWork
	tried map[int][]cyclePlace // cycles to try the weighers of a bin on
}

// roadScatter is the energy that road and belts bring within roadStep, as a
// share of the full work.
const roadScatter = 0.05

// shapeError is how far, in degrees of lateness per full work, real torque
// strays from the assumed shape of a burn: it keeps a weigher from trusting
// fine structure when the edges themselves are nearly noiseless.
const shapeError = 0.4

// newScales shares the weighers of the speeds most run at with the bins beside
// them: what those lend one another must be weighed alike.
func newScales(c *clock, bins []bin, tops []float64) *scales {
	s := &scales{angles: c.angles, tops: tops, jitter: edgeJitter(c), home: map[int]int{}, speeds: map[int]float64{}, banks: map[int]*bank{}, sights: map[view]*sight{}}
	for _, b := range byCycles(bins) {
		at := binOf(b.rpm)
		for k := at - 1; k <= at+1; k++ {
			if _, taken := s.home[k]; !taken {
				s.home[k] = at
			}
		}
		s.speeds[at] = b.rpm
	}
	return s
}

// bankFor is nil for a bin not worth weighing and where nothing can be weighed.
func (s *scales) bankFor(bin int) *bank {
	key, worth := s.home[bin]
	if !worth {
		return nil
	}
	b, ok := s.banks[key]
	if !ok {
		b = s.quietest(key)
		s.banks[key] = b
	}
	return b
}

// quietest is the bank for a speed bin and those that share it, under the road
// and through the window that leave least scatter; nil when none weighs.
func (s *scales) quietest(key int) *bank {
	rpm := s.speeds[key]
	best := s.newBank(rpm, roadsTried[0])
	if best == nil || len(s.tried[key]) < fewestTried {
		return best
	}
	least := best.scatterBy(s.tried[key])
	try := func(b *bank) (quieter bool) {
		if b == nil || least == 0 {
			return false
		}
		d := b.scatterBy(s.tried[key])
		if quieter = d > 0 && d < least; quieter {
			best, least = b, d
		}
		return quieter
	}
	road := roadsTried[0]
	for _, other := range roadsTried[1:] {
		if try(s.newBank(rpm, other)) {
			road = other
		}
	}
	if best.window.before == windows[0].before { // a short window weighs well
		return best
	}
	full := s.expected(rpm)
	for _, win := range longWindows {
		if !s.fits(win) {
			continue
		}
		for _, road := range []roughness{road, smoothRoad} {
			b, _ := s.bankWith(win, full, road, rpm)
			try(b)
		}
	}
	return best
}

// fits reports whether changes of speed leave room for a window.
func (s *scales) fits(win window) bool {
	return float64(win.before+win.after)*cycleDeg/float64(len(s.tops)) <= widestWindow
}

// newBank takes the first window that weighs well enough, else the best; nil
// when none weighs at all.
func (s *scales) newBank(rpm float64, road roughness) (best *bank) {
	full := s.expected(rpm)
	least := math.Inf(1)
	for i, win := range windows {
		if i > 0 && !s.fits(win) {
			break
		}
		b, sigma := s.bankWith(win, full, road, rpm)
		if b != nil && sigma < 0.95*least {
			best, least = b, sigma
		}
		if least < wellWeighed*full {
			break
		}
	}
	return best
}

// bankWith makes the weighers of one window and tells their mean scatter.
func (s *scales) bankWith(win window, full float64, road roughness, rpm float64) (*bank, float64) {
	n := noise{jitterDeg: max(s.jitter*6*rpm, shapeError*full), spread: win.scatter * full, stray: 0.5 * full, road: roughness{road.random * full, road.sway * full}}
	b := &bank{window: win}
	sigma := 0.0
	half := len(s.tops)
	if turnsAlike(s.angles) && turnsAlike(s.tops) {
		half /= 2
	}
	for k := range s.tops {
		if k >= half {
			b.weighers = append(b.weighers, b.weighers[k-half].turnLater(len(s.angles)))
		} else if w, err := s.weigherFor(k, win, n); err == nil {
			b.weighers = append(b.weighers, w)
		} else {
			return nil, 0
		}
		w := b.weighers[k]
		b.gains = append(b.gains, s.gainsOf(w, k, win))
		b.reach = max(b.reach, reachOf(b.gains[k], win.before))
		sigma += w.sigma / float64(len(s.tops))
	}
	return b, sigma
}

// weigherFor makes the weigher of a position; what it sees is kept.
func (s *scales) weigherFor(position int, win window, n noise) (weigher, error) {
	key := view{position, win.before, win.after}
	see, ok := s.sights[key]
	if !ok {
		var err error
		if see, err = newSight(s.angles, s.tops, position, win); err != nil {
			return weigher{}, err
		}
		s.sights[key] = see
	}
	return see.weigherFor(n)
}

// turnsAlike reports whether angles of a cycle repeat after a turn.
func turnsAlike(angles []float64) bool {
	half := len(angles) / 2
	for k := range half {
		if math.Abs(angles[half+k]-angles[k]-turnDeg) > 1e-6 {
			return false
		}
	}
	return len(angles)%2 == 0
}

// alikeGain is the share of a miss from which it shows enough in a neighbour to
// be mistaken for one there.
const alikeGain = 0.15

func reachOf(gains []float64, own int) (reach int) {
	for i, g := range gains {
		if g > alikeGain {
			reach = max(reach, i-own, own-i)
		}
	}
	return reach
}

// gainsOf is how the weigher of a position answers to the firings around it.
func (s *scales) gainsOf(w weigher, position int, win window) []float64 {
	out := make([]float64, win.before+win.after+1)
	for lag := -win.before; lag <= win.after; lag++ {
		top := firingAt(s.tops, position+lag)
		for i, tap := range w.taps {
			out[lag+win.before] += tap * delayOf(markAngle(s.angles, w.from+i)-top)
		}
	}
	return out
}

// weighAll weighs every firing of the recording, in time order; a taste of it
// weighs as many as tell how they scatter at each speed.
func (s *scales) weighAll(c *clock, taste bool) []firing {
	m, n := c.perCycle(), len(s.tops)
	cycles := 0
	for _, p := range c.parts {
		cycles += len(p.t) / m
	}
	if taste {
		cycles = min(cycles, 2*tasteFirst)
	}
	out := make([]firing, 0, cycles*n)
	cycle := int32(0)
	at := speedBin{}
	seen := map[int]int{}
	for _, p := range c.parts {
		for base := 0; base+m < len(p.t); base += m {
			at.move(s, 120/(p.t[base+m]-p.t[base]))
			if at.bank != nil && (!taste || tasted(seen, at.bin)) { // else a speed passed through too quickly to be judged
				out = s.weighCycle(out, p, base, cycle, at)
			}
			cycle++
		}
		cycle++ // the stretch ends here: its neighbours are no neighbours
	}
	return out
}

// The cycles of a speed that a taste takes: the first ones, then one in so many.
const tasteFirst, tasteOneIn = 1000, 16

func tasted(seen map[int]int, bin int) bool {
	seen[bin]++
	return seen[bin] <= tasteFirst || seen[bin]%tasteOneIn == 0
}

// speedBin is the speed bin a cycle lies in, with its bank.
type speedBin struct {
	binWalk
	bank *bank // nil: not weighed
}

// move goes to the bin of a speed, which mostly is the one before.
func (b *speedBin) move(s *scales, rpm float64) {
	if b.binWalk.move(rpm) {
		b.bank = s.bankFor(b.bin)
	}
}

// weighCycle weighs the firings of the cycle that begins at mark base.
func (s *scales) weighCycle(out []firing, p stretchOfCycles, base int, cycle int32, at speedBin) []firing {
	for k := range at.bank.weighers {
		w := &at.bank.weighers[k]
		f, ok := w.weigh(p.t, base)
		if !ok {
			continue
		}
		f.cycle, f.slot, f.bin = cycle, int16(k), int16(at.bin)
		if rpm := float64(f.rpm); rpm < at.least || rpm >= at.most { // its window is longer than the cycle
			f.bin = int16(binOf(rpm))
		}
		f.whole = !touches(p.filled, base+w.from, base+w.from+len(w.taps), len(s.angles))
		out = append(out, f)
	}
	return out
}

// touches reports whether so many marks of the window were filled in that its
// weight is in doubt: one of many is harmless, one of few is not.
func touches(filled []int, lo, hi, perCycle int) bool {
	if len(filled) == 0 {
		return false
	}
	i, _ := slices.BinarySearch(filled, lo)
	j, _ := slices.BinarySearch(filled, hi)
	return (j-i)*2*fewMarks > perCycle
}

// slotStats is the mean and scatter of the works of one firing position within
// one speed bin.
type slotStats struct {
	n                 int
	mean, median, dev float64
}

// describedBy is how many values are enough for a median.
const describedBy = 5000

// slotSum gathers the works of one firing position within one speed bin: all
// for the mean, one in so many for the median.
type slotSum struct {
	n      int
	sum    float64
	sample []float64
	oneIn  int
}

func (s *slotSum) add(work float64) {
	s.oneIn = max(1, s.oneIn)
	if s.n%s.oneIn == 0 {
		s.sample = append(s.sample, work)
	}
	s.n++
	s.sum += work
	if len(s.sample) == 2*describedBy { // let go of every second
		s.sample, s.oneIn = everySecond(s.sample), 2*s.oneIn
	}
}

func (s *slotSum) stats() slotStats {
	if s.n == 0 {
		return slotStats{}
	}
	out := slotStats{n: s.n, mean: s.sum / float64(s.n), median: median(s.sample)}
	for i, x := range s.sample {
		s.sample[i] = math.Abs(x - out.median)
	}
	out.dev = 1.4826 * median(s.sample)
	return out
}

func describe(works []float64) slotStats {
	var s slotSum
	for _, w := range works {
		s.add(w)
	}
	return s.stats()
}

// statsByBin sorts the works of all whole firings by speed bin and position.
func statsByBin(firings []firing, slots int) map[int][]slotStats {
	sums := map[int16][]slotSum{}
	var last int16
	var here []slotSum
	for i := range firings {
		f := &firings[i]
		if !f.whole {
			continue
		}
		if here == nil || f.bin != last {
			if here = sums[f.bin]; here == nil {
				here = make([]slotSum, slots)
				sums[f.bin] = here
			}
			last = f.bin
		}
		here[f.slot].add(float64(f.work))
	}
	out := map[int][]slotStats{}
	for bin, all := range sums {
		stats := make([]slotStats, slots)
		for k := range all {
			stats[k] = all[k].stats()
		}
		out[int(bin)] = stats
	}
	return out
}

// widest is how many firings away one may still be seen.
func (s *scales) widest() (n int) {
	for _, b := range s.banks {
		if b != nil {
			n = max(n, b.window.before, b.window.after)
		}
	}
	return n
}

// jitterScatter is the scatter of a firing's weight that the jitter of the edges
// alone makes, relative energy; 0 where nothing can be weighed.
func (s *scales) jitterScatter(bin int, rpm float64) float64 {
	b := s.bankFor(bin)
	if b == nil {
		return 0
	}
	sum := 0.0
	for _, w := range b.weighers {
		for _, t := range w.taps {
			sum += t * t / float64(len(b.weighers))
		}
	}
	return math.Sqrt(sum) * s.jitter * 6 * rpm
}
