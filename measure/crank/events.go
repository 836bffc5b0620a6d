package crank

import (
	"math"
	"slices"
)

// level is what one speed bin says of one firing position.
type level struct {
	bias float64 // of the weigher there, relative energy
	dead bool    // the mean cycle says this cylinder never works
}

// binLevels are the levels of one speed bin.
type binLevels struct {
	full  float64 // work of a full miss, relative energy at the bin's speed
	rpm   float64
	slots []level
}

// levelsOf finds the weigher's bias of each position: the mean it measured less
// what the believed mean works would make it measure.
func levelsOf(stats []slotStats, bk *bank, mean []float64, dead []int, full, rpm float64) binLevels {
	out := binLevels{full: full, rpm: rpm, slots: make([]level, len(stats))}
	for k, s := range stats {
		expect := 0.0
		for i, g := range bk.gains[k] {
			expect += g * mean[wrapIndex(k+i-bk.window.before, len(mean))]
		}
		out.slots[k] = level{bias: s.mean - expect, dead: slices.Contains(dead, k)}
	}
	return out
}

// fewCycles is how many cycles tell as much of the biases in a speed bin as the
// bin beside it does. A miss among few would hide itself in its bias.
const fewCycles = 12.0

// lendLevels lets bins of few cycles lean on a neighbour of more, and those of
// too few to be judged, into which a miss throws an idling engine, take its
// levels.
func lendLevels(judged map[int]binLevels, cycles map[int]int, seen map[int][]slotStats) map[int]binLevels {
	out := map[int]binLevels{}
	for b := range seen {
		lender := b - 1
		if cycles[b+1] > cycles[lender] {
			lender = b + 1
		}
		own, known := judged[b]
		switch {
		case cycles[lender] <= cycles[b]:
			if known {
				out[b] = own
			}
		case !known:
			out[b] = judged[lender]
		default:
			out[b] = own.leaning(judged[lender], float64(cycles[b])/(float64(cycles[b])+fewCycles))
		}
	}
	return out
}

// leaning has the biases of another bin except for a share of its own.
func (l binLevels) leaning(other binLevels, share float64) binLevels {
	slots := slices.Clone(l.slots)
	for k := range slots {
		slots[k].bias = share*slots[k].bias + (1-share)*other.slots[k].bias
	}
	l.slots = slots
	return l
}

func wrapIndex(i, n int) int { return ((i % n) + n) % n }

// pursuitRounds is how often at most misses found are subtracted from their
// neighbours; fewer when less than one firing in settledOne changes.
const (
	pursuitRounds = 12
	settledOne    = 5000
)

// detect frees the firings from bias and from the echo of neighbouring misses
// and marks the misses: in each round those deepest around, so that a miss is
// found before what it does to its neighbours is judged. The firings are in
// time order and give way to those that can be judged; bins holds the levels of
// each speed bin.
func detect(firings []firing, bins map[int]binLevels, s *scales) ([]firing, missModel) {
	all := inFullWorks(firings, bins)
	var m missModel
	for range pursuitRounds {
		subtractEchoes(all, s, m)
		m = fitMisses(all, bins)
		if changed := pursue(all, m, bins, s); changed*settledOne < len(all) {
			break
		}
	}
	takeEchoes(all, m, bins)
	return all, m
}

// inFullWorks keeps the firings that can be judged and frees their work from
// bias.
func inFullWorks(firings []firing, bins map[int]binLevels) []firing {
	all := firings[:0]
	var lv binLevels
	last := int16(math.MinInt16)
	for _, f := range firings {
		if f.bin != last {
			lv, last = bins[int(f.bin)], f.bin
		}
		if !f.whole || !(lv.full > 0) {
			continue
		}
		at := &lv.slots[f.slot]
		// The bias is known for the mean speed of the bin; energy goes as speed squared.
		faster := float64(f.rpm) / lv.rpm
		f.miss, f.raw = at.dead, float32((float64(f.work)-at.bias)/lv.full*faster*faster)
		all = append(all, f)
	}
	return all
}

// pursue takes the deepest firings around for misses and lets go of those that
// no longer look missed, and tells how many changed.
func pursue(all []firing, m missModel, bins map[int]binLevels, s *scales) (changed int) {
	highest := m.centre - min(m.threshold, m.depth/3) // no firing above can be a miss
	for i := range all {
		w := &all[i]
		w.loss, w.take = 0, false
		if !(float64(w.excess) < highest) {
			continue
		}
		e := float64(w.excess) - m.centre
		if e < -1.5*m.depth {
			w.loss = float32(e)
		}
		low := e < -m.thresholdOf(bins[int(w.bin)].slots[w.slot])
		w.take = low && (w.miss || deepestAround(all, i, s.bankFor(int(w.bin)).reach))
	}
	for i := range all {
		if w := &all[i]; w.take != w.miss {
			w.miss = w.take
			changed++
		}
	}
	return changed
}

// deepestAround reports whether no firing within reach that is not yet a miss
// lies deeper.
func deepestAround(all []firing, i, reach int) bool {
	for j := max(0, i-reach); j <= i+reach && j < len(all); j++ {
		if !all[j].miss && all[j].excess < all[i].excess {
			return false
		}
	}
	return true
}

// subtractEchoes sets each firing's excess to its raw value less what the
// misses around it add.
func subtractEchoes(all []firing, s *scales, m missModel) {
	n, widest := len(s.tops), s.widest()
	depth := m.depth
	if depth == 0 {
		depth = 1
	}
	for i := range all {
		all[i].excess = all[i].raw
	}
	var b *bank
	last := int16(math.MinInt16)
	for j := range all {
		if !all[j].miss {
			continue
		}
		place := int(all[j].cycle)*n + int(all[j].slot)
		loss := min(-depth, float64(all[j].loss))
		for i := max(0, j-widest); i < len(all) && i <= j+widest; i++ {
			f := &all[i]
			if f.bin != last {
				b, last = s.bankFor(int(f.bin)), f.bin
			}
			lag := place - int(f.cycle)*n - int(f.slot)
			if i != j && lag >= -b.window.before && lag <= b.window.after {
				f.excess -= float32(b.gains[f.slot][lag+b.window.before] * loss)
			}
		}
	}
}

// missModel is what the scatter of all firings says of a miss.
type missModel struct {
	centre, sigma float64 // of working firings, full works
	depth         float64 // of a miss below the centre
	threshold     float64 // a firing this far below the centre is a miss
	rate          float64 // share of misses among firings of cylinders that work at all
	clear         bool    // misses stand apart from the scatter
}

// thresholdOf is the threshold at a position: where the mean cycle says dead, a
// miss is expected and little speaks for it.
func (m missModel) thresholdOf(l level) float64 {
	if l.dead {
		return m.depth / 3
	}
	return m.threshold
}

// modelSample is how many firings are enough to tell two heaps apart.
const modelSample = 10000

func anyLevels(bins map[int]binLevels) binLevels {
	for _, b := range bins {
		return b
	}
	return binLevels{}
}

// fitMisses fits two heaps to the firings: working ones, and misses one depth
// below. Cylinders the mean cycle calls dead are left out of the first heap.
func fitMisses(all []firing, bins map[int]binLevels) missModel {
	x := make([]float64, 0, min(len(all), 2*modelSample))
	stride := 1 + len(all)/(2*modelSample)
	besideDead := false
	if len(bins) > 0 && stride%len(anyLevels(bins).slots) == 0 {
		stride++ // walk through all positions
	}
	for i := 0; i < len(all); i += stride {
		f := &all[i]
		if bins[int(f.bin)].slots[f.slot].dead {
			besideDead = true
			continue
		}
		x = append(x, float64(f.excess))
	}
	m := missModel{depth: 1, threshold: math.Inf(1)}
	if len(x) < 8 {
		m.threshold = 0.5
		return m
	}
	m.centre, m.sigma = core(x)
	m.sigma = max(m.sigma, 1e-4)
	m.depth, m.rate, m.clear = secondHeap(thin(x, modelSample), m.centre, m.sigma)
	m.clear = m.clear && !(besideDead && m.depth < leastBesideDead)
	if m.clear && m.rate > 0.03 { // many misses pull the middle down: look again without them
		from := m.centre - m.depth/2
		working := slices.DeleteFunc(slices.Clone(x), func(v float64) bool { return v < from })
		if m.rate < spreadMost {
			m.centre, m.sigma = tightCore(working)
		} else {
			m.centre, m.sigma = core(working)
		}
	}
	if !m.clear {
		m.depth = 1 // as the mean cycle has it
		m.threshold = max(2.9*m.sigma, 0.35)
		return m
	}
	m.threshold = cutBetween(m.depth, m.sigma)
	return m
}

// cutBetween is where to cut between working firings and misses a depth below:
// the middle when they nearly touch, nearer the misses when they stand apart,
// because a false alarm is worse than a miss not counted.
func cutBetween(depth, sigma float64) float64 {
	if room := depth - 3.2*sigma; room > depth/2 {
		return min(room, 0.6*depth)
	}
	return max(depth/2, 2.8*sigma)
}

// core is the middle and scatter of the working firings, from the upper half:
// misses lie below.
func core(x []float64) (centre, sigma float64) {
	s := slices.Clone(x)
	at60, at90 := len(s)*6/10, len(s)*9/10
	// Quantiles 60 % and 90 % of a normal heap stand 0.2533 and 1.2816 σ above its middle.
	q60 := ranked(s, at60)
	q90 := ranked(s[at60:], at90-at60)
	sigma = (q90 - q60) / (1.2816 - 0.2533)
	centre = q60 - 0.2533*sigma
	return centre, sigma
}

// spreadMost is the share of misses from which a cylinder is dead rather than
// all of them missing now and then.
const spreadMost = 0.3

// tightCore is core from the 40 % that lie closest together: where many misses
// lift the firings beside them the upper half is no normal heap.
func tightCore(x []float64) (centre, sigma float64) {
	s := sorted64(x)
	n := len(s) * 4 / 10
	low := 0
	for i := range len(s) - n {
		if s[i+n]-s[i] < s[low+n]-s[low] {
			low = i
		}
	}
	// The middle 40 % of a normal heap are 1.0488 σ wide.
	return s[low+n/2], (s[low+n] - s[low]) / 1.0488
}

func thin(x []float64, most int) []float64 {
	if len(x) <= most {
		return x
	}
	out := make([]float64, 0, most)
	for i := range most {
		out = append(out, x[i*len(x)/most])
	}
	return out
}

// needGain is by how much the logarithm of the likelihood must rise before a
// second heap is believed.
const needGain = 9.0

// depthPenalty is minus the logarithm of the prior of a depth.
func depthPenalty(d float64) float64 {
	x := math.Log(d) / fullWorkAbove
	return x * x / 2
}

// leastBesideDead is the least depth of a miss, in expected full misses, where a
// dead cylinder shows what a full miss is: its neighbours' cannot be half as
// deep, a road's bumps can.
const leastBesideDead = 0.6

// sharesSearched are the shares of misses that secondHeap tries.
var sharesSearched = [...]float64{0.0005, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.35}

// secondHeap searches the depth and share of misses that explain the scatter
// best, between a third and twelve times the expected work of a full miss (a
// motorcycle's light crank), the expectation being what fullWork says.
func secondHeap(x []float64, centre, sigma float64) (depth, rate float64, found bool) {
	low := slices.DeleteFunc(slices.Clone(x), func(v float64) bool { return v > centre-2*sigma })
	core := make([]float64, len(low))
	for i, v := range low {
		u := (v - centre) / sigma
		// A heap with a little heavier tail than the normal one.
		core[i] = max(math.Exp(-u*u/2)+0.01*math.Exp(-u*u/8)/2, 1e-200)
	}
	likely := make([]float64, len(low))
	best := needGain
	for d := 0.3; d < 12; d *= 1.08 {
		if d < 3*sigma {
			continue
		}
		wide := math.Hypot(1.15*sigma, 0.15*d)
		for i, v := range low {
			w := (v - centre + d) / wide
			likely[i] = sigma / wide * math.Exp(-w*w/2) / core[i]
		}
		for _, r := range sharesSearched {
			gain := float64(len(x))*math.Log(1-r) - depthPenalty(d) + mixed(likely, r/(1-r))
			if gain > best {
				best, depth, rate, found = gain, d, r, true
			}
		}
	}
	return depth, rate, found
}

// mixed is Σ ln(1 + odds·likely); products of many take one logarithm.
func mixed(likely []float64, odds float64) (sum float64) {
	product := 1.0
	for _, l := range likely {
		product *= 1 + odds*l
		if product > 1e100 { // a factor is below 1e203
			sum += math.Log(product)
			product = 1
		}
	}
	return sum + math.Log(product)
}
