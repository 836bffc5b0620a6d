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

// scales weighs whole recordings; it makes banks as speeds turn up.
type scales struct {
	angles, tops []float64
	jitter       float64 // seconds
	banks        map[int]*bank
	bins         map[int]bool // speed bins worth weighing
}

// roadScatter is the energy that road and belts bring within roadStep, as a
// share of the full work.
const roadScatter = 0.05

// shapeError is how far, in degrees of lateness per full work, real torque
// strays from the assumed shape of a burn: it keeps a weigher from trusting
// fine structure when the edges themselves are nearly noiseless.
const shapeError = 0.4

func (s *scales) bankFor(bin int) *bank {
	key := floorDiv(bin, 2)
	b, ok := s.banks[key]
	if !ok {
		b = s.newBank(math.Pow(speedStep, float64(2*key)+1))
		s.banks[key] = b
	}
	return b
}

// newBank takes the first window that weighs well enough, else the best; nil
// when none weighs at all.
func (s *scales) newBank(rpm float64) (best *bank) {
	full := fullWork(len(s.tops), rpm)
	least := math.Inf(1)
	for i, win := range windows {
		if i > 0 && float64(win.before+win.after)*cycleDeg/float64(len(s.tops)) > widestWindow {
			break
		}
		b, sigma := s.bankWith(win, full, rpm)
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
func (s *scales) bankWith(win window, full, rpm float64) (*bank, float64) {
	n := noise{jitterDeg: max(s.jitter*6*rpm, shapeError*full), spread: win.scatter * full, stray: 0.5 * full, road: roadScatter * full}
	b := &bank{window: win}
	sigma := 0.0
	for k := range s.tops {
		w, err := newWeigher(s.angles, s.tops, k, win, n)
		if err != nil {
			return nil, 0
		}
		b.weighers = append(b.weighers, w)
		b.gains = append(b.gains, s.gainsOf(w, k, win))
		b.reach = max(b.reach, reachOf(b.gains[k], win.before))
		sigma += w.sigma / float64(len(s.tops))
	}
	return b, sigma
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

// weighAll weighs every firing of the recording, in time order.
func (s *scales) weighAll(c *clock) []firing {
	m, n := c.perCycle(), len(s.tops)
	var out []firing
	cycle := int32(0)
	for _, p := range c.parts {
		out = slices.Grow(out, len(p.t)/m*n)
		for base := 0; base+m < len(p.t); base += m {
			rpm := 120 / (p.t[base+m] - p.t[base])
			bin := binOf(rpm)
			if !s.bins[bin] {
				cycle++
				continue // a speed passed through too quickly to be judged
			}
			b := s.bankFor(bin)
			least, most := binLimits(bin)
			for k := 0; b != nil && k < n; k++ {
				f, ok := b.weighers[k].weigh(p.t, base)
				if !ok {
					continue
				}
				f.cycle, f.slot, f.bin = cycle, int16(k), int16(bin)
				if f.rpm < least || f.rpm >= most { // its window is longer than the cycle
					f.bin = int16(binOf(f.rpm))
				}
				f.whole = !touches(p.filled, base+b.weighers[k].from, base+b.weighers[k].from+len(b.weighers[k].taps), m)
				out = append(out, f)
			}
			cycle++
		}
		cycle++ // the stretch ends here: its neighbours are no neighbours
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

// statsByBin sorts the works of all whole firings by speed bin and position.
func statsByBin(firings []firing, slots int) map[int][]slotStats {
	works := map[int16][][]float64{}
	var last int16
	var here [][]float64
	for i := range firings {
		f := &firings[i]
		if !f.whole {
			continue
		}
		if here == nil || f.bin != last {
			if here = works[f.bin]; here == nil {
				here = make([][]float64, slots)
				works[f.bin] = here
			}
			last = f.bin
		}
		here[f.slot] = append(here[f.slot], f.work)
	}
	out := map[int][]slotStats{}
	for bin, w := range works {
		stats := make([]slotStats, slots)
		for k := range w {
			stats[k] = describe(w[k])
		}
		out[int(bin)] = stats
	}
	return out
}

// describedBy is how many values are enough for a median.
const describedBy = 5001

func describe(w []float64) slotStats {
	if len(w) == 0 {
		return slotStats{}
	}
	s := slotStats{n: len(w)}
	for _, x := range w {
		s.mean += x
	}
	s.mean /= float64(len(w))
	few := thin(w, describedBy)
	s.median = median(few)
	off := make([]float64, len(few))
	for i, x := range few {
		off[i] = math.Abs(x - s.median)
	}
	s.dev = 1.4826 * median(off)
	return s
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
