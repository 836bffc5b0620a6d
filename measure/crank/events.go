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
	m := pursueMisses(all, bins, s, missModel.asFitted)
	if m.clear && m.gain < needApart {
		for i := range all {
			all[i].miss = bins[int(all[i].bin)].slots[all[i].slot].dead
		}
		m = pursueMisses(all, bins, s, missModel.unclear)
	}
	takeEchoes(all, m, bins)
	return all, m
}

// pursueMisses marks the misses in rounds.
func pursueMisses(all []firing, bins map[int]binLevels, s *scales, as func(missModel) missModel) (m missModel) {
	for range pursuitRounds {
		subtractEchoes(all, s, m)
		m = as(fitMisses(all, bins))
		if changed := pursue(all, m, bins, s); changed*settledOne < len(all) {
			break
		}
	}
	return m
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
