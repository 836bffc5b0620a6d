package crank

import (
	"math"
	"slices"
)

// missModel is what the scatter of all firings says of a miss.
type missModel struct {
	centre, sigma float64 // of working firings, full works; sigma of the better half
	below         float64 // their scatter below the centre: slow burns make it larger than sigma
	depth         float64 // of a miss below the centre
	threshold     float64 // a firing this far below the centre is a miss
	rate          float64 // share of misses among firings of cylinders that work at all
	gain          float64 // by which misses raise the logarithm of the likelihood, over working firings of any shape
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
	fit := secondHeap(thin(x, modelSample), m.centre, m.sigma)
	m.depth, m.rate, m.gain, m.clear = fit.depth, fit.rate, fit.gain, fit.found
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
	m.below = fit.skew * m.sigma
	if !m.clear {
		return m.unclear()
	}
	m.threshold = cutBetween(m.depth, m.below)
	return m
}

func (m missModel) asFitted() missModel { return m }

// unclear is the model when misses do not stand apart: a miss is as deep as the
// mean cycle has it.
func (m missModel) unclear() missModel {
	m.clear, m.depth, m.rate = false, 1, 0
	m.threshold = max(2.9*m.sigma, min(2.9*m.below, 0.5), 0.35)
	return m
}

// farthestCut is the greatest share of a miss's depth at which to cut.
const farthestCut = 0.6

// cutBetween is where to cut between working firings and misses a depth below:
// the middle when they nearly touch, nearer the misses when they stand apart,
// because a false alarm is worse than a miss not counted.
func cutBetween(depth, sigma float64) float64 {
	if room := depth - 3.2*sigma; room > depth/2 {
		return min(room, farthestCut*depth)
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
// second heap is pursued, over one heap that is not skewed; needApart by how much
// in the end, over one of any shape. What is taken for a miss deepens the firings
// around it, and a few slow burns soon look like a second heap.
const (
	needGain  = 9.0
	needApart = 3.0
)

// depthPenalty is minus the logarithm of the prior of a depth.
func depthPenalty(d float64) float64 {
	x := math.Log(d) / fullWorkAbove
	if d < 1 {
		x = math.Log(d) / fullWorkBelow
	}
	return x * x / 2
}

// leastBesideDead is the least depth of a miss, in expected full misses, where a
// dead cylinder shows what a full miss is: its neighbours' cannot be half as
// deep, a road's bumps can.
const leastBesideDead = 0.6

// sharesSearched are the shares of misses that secondHeap tries.
var sharesSearched = [...]float64{0.0005, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.35}

// workingHeap is a shape that the heap of working firings may have: by how much
// wider it scatters below its middle than above it, for a charge that burns
// slowly loses more than a quick one gains, and the later it burns the less of
// it a weigher sees; and which share of it scatters twice as wide.
type workingHeap struct{ skew, tail float64 }

// workingHeaps are those of any second heap's rivals, longTails besides those of
// a second heap that is shallower than shallowMiss: what loses less than half of
// a full work is rather a slow burn than a miss.
var (
	workingHeaps = []workingHeap{{1, 0.01}, {1.25, 0.02}, {1.5, 0.04}, {1.75, 0.07}, {2, 0.1}}
	longTails    = []workingHeap{{1, 0.1}, {1.3, 0.1}, {1.6, 0.1}}
)

const shallowMiss = 0.5

// surelyWorks is how many scatters below the middle a miss may not yet lie.
const surelyWorks = 2.0

// heapFit is what the works of many firings look most like: a heap of working
// ones, or that and a second heap of misses.
type heapFit struct {
	skew        float64 // of the first heap
	depth, rate float64 // of the second
	gain        float64 // of the logarithm of the likelihood by the second, over one heap of any shape
	found       bool    // it is worth having beside a first heap that is not skewed
}

// secondHeap searches the depth and share of misses that explain the scatter
// best, between a third and twelve times the expected work of a full miss (a
// motorcycle's light crank), the expectation being what fullWork says.
func secondHeap(x []float64, centre, sigma float64) (fit heapFit) {
	h := newLowerHalf(x, centre, sigma)
	one, two := math.Inf(-1), math.Inf(-1)
	var alone, beside float64 // skews
	for i, shape := range workingHeaps {
		base := h.shaped(shape)
		gain, depth, rate := h.second(sigma, shape.skew)
		if i == 0 {
			fit.depth, fit.rate, fit.found = depth, rate, gain > needGain
		}
		if base > one {
			one, alone = base, shape.skew
		}
		if base+gain > two {
			two, beside = base+gain, shape.skew
		}
	}
	if fit.depth < shallowMiss {
		for _, shape := range longTails {
			one = max(one, h.shaped(shape))
		}
	}
	if fit.gain, fit.skew = two-one, alone; fit.found {
		fit.skew = beside
	}
	return fit
}

// lowerHalf are the firings below the middle, in scatters; only those that may
// be misses one by one.
type lowerHalf struct {
	all     float64   // firings, of both halves
	squares float64   // of those that surely work
	low     []float64 // the others
	core    []float64 // likelihoods of those by the first heap
	likely  []float64 // and by the second, relative
}

func newLowerHalf(x []float64, centre, sigma float64) *lowerHalf {
	h := &lowerHalf{all: float64(len(x))}
	for _, v := range x {
		switch u := (v - centre) / sigma; {
		case u < -surelyWorks:
			h.low = append(h.low, u)
		case u < 0:
			h.squares += u * u
		}
	}
	h.core, h.likely = make([]float64, len(h.low)), make([]float64, len(h.low))
	return h
}

// shaped lays one heap through all firings and gives the logarithm of their
// likelihood, up to a constant.
func (h *lowerHalf) shaped(as workingHeap) float64 {
	peak := 2 / (1 + as.skew)
	sum := h.all*math.Log(peak) - h.squares/(2*as.skew*as.skew)
	for i, u := range h.low {
		u /= as.skew
		c := max(math.Exp(-u*u/2)+as.tail*math.Exp(-u*u/8)/2, 1e-200)
		h.core[i] = peak * c
		sum += math.Log(c)
	}
	return sum
}

// second is by how much the best second heap raises the logarithm of the
// likelihood, its depth in full works and its share.
func (h *lowerHalf) second(sigma, skew float64) (gain, depth, rate float64) {
	gain = math.Inf(-1)
	for d := 0.3; d < 12; d *= 1.08 {
		if d < 3*skew*sigma {
			continue
		}
		wide := math.Hypot(1.15, 0.15*d/sigma)
		for i, u := range h.low {
			w := (u + d/sigma) / wide
			h.likely[i] = math.Exp(-w*w/2) / wide / h.core[i]
		}
		for _, r := range sharesSearched {
			if g := h.all*math.Log(1-r) - depthPenalty(d) + mixed(h.likely, r/(1-r)); g > gain {
				gain, depth, rate = g, d, r
			}
		}
	}
	return gain, depth, rate
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
