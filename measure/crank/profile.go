package crank

import (
	"maps"
	"math"
	"slices"
)

// speedStep is the ratio between the limits of a speed bin.
const speedStep = 1.25

// bin is the mean cycle seen within a range of speeds: by how many degrees of
// crank angle each mark comes late against an even turn.
type bin struct {
	rpm     float64 // mean
	cycles  int
	late    []float64 // degrees, one per mark of the cycle
	scatter []float64 // variance of one cycle's lateness around the mean at each mark, square degrees
}

// binOf numbers the speed bins.
func binOf(rpm float64) int { return int(math.Floor(math.Log(rpm) / math.Log(speedStep))) }

// binLimits are the speeds a bin reaches from and to, rpm.
func binLimits(bin int) (least, most float64) {
	least = math.Pow(speedStep, float64(bin))
	return least, least * speedStep
}

// binWalk goes through cycles, of which each mostly lies in the bin of the one
// before.
type binWalk struct {
	bin         int
	least, most float64 // rpm, its limits; 0 before the first cycle
}

// move goes to the bin of a speed and reports whether that is another.
func (b *binWalk) move(rpm float64) bool {
	if rpm >= b.least && rpm < b.most {
		return false
	}
	b.bin = binOf(rpm)
	b.least, b.most = binLimits(b.bin)
	return true
}

// profiles averages all whole cycles by speed, slowest first.
func profiles(c *clock) []bin {
	acc := averager{angles: c.angles, bins: map[int]*binSum{}}
	acc.bow = column(c.angles, func(a float64) float64 { return a * (cycleDeg - a) / (2 * cycleDeg) })
	for _, p := range c.parts {
		acc.accumulate(p)
	}
	var out []bin
	for _, k := range slices.Sorted(maps.Keys(acc.bins)) {
		if b := acc.bins[k]; b.n >= minCycles {
			out = append(out, b.bin(c.angles))
		}
	}
	return out
}

// energyLateness turns lateness into what it would be if slowness answered to
// energy linearly, t' = 1 − ½(E/Ē−1), instead of t' = (E/Ē)^−½: at idle a dead
// cylinder takes enough for the difference to matter.
func energyLateness(angles, late []float64) []float64 {
	n := len(angles)
	energy := make([]float64, n)
	mean := 0.0
	for i := range n {
		step, more := turnStep(angles, late, i)
		s := 1 + more/step
		if !(s > 0.1) {
			return late // no wheel turns back
		}
		energy[i] = 1 / (s * s)
		mean += energy[i] * step / cycleDeg
	}
	out := make([]float64, n)
	for i := range n - 1 {
		step, _ := turnStep(angles, late, i)
		out[i+1] = out[i] - (energy[i]/mean-1)*step/2
	}
	return out
}

// turnStep is the angle from mark i to the next and the lateness gained there.
func turnStep(angles, late []float64, i int) (step, more float64) {
	if i+1 == len(angles) {
		return cycleDeg - angles[i], late[0] - late[i]
	}
	return angles[i+1] - angles[i], late[i+1] - late[i]
}

// averager adds cycles up by speed.
type averager struct {
	angles []float64
	bow    []float64 // lateness, in degrees, that an acceleration of one per cycle squared makes
	bins   map[int]*binSum
}

type binSum struct {
	n       int
	rpm     float64
	sum, sq []float64
}

func (b *binSum) bin(angles []float64) bin {
	out := bin{rpm: b.rpm / float64(b.n), cycles: b.n, late: make([]float64, len(b.sum)), scatter: make([]float64, len(b.sum))}
	n := float64(b.n)
	for m, s := range b.sum {
		out.late[m] = s / n
		out.scatter[m] = max(0, b.sq[m]/n-s*s/(n*n)) * n / (n - 1)
	}
	out.late = energyLateness(angles, out.late)
	return out
}

// add takes a cycle whose marks pass at t and that lasts so many seconds.
// Acceleration kappa (per cycle squared) is removed: t(θ) = τθ + ½κθ².
func (a averager) add(b *binSum, t []float64, seconds, kappa float64) {
	b.n++
	b.rpm += 120 / seconds
	scale, t0 := cycleDeg/seconds, t[0]
	n := len(a.angles)
	t, sum, sq, bow := t[:n], b.sum[:n], b.sq[:n], a.bow[:n]
	for k, angle := range a.angles {
		late := (t[k]-t0)*scale - angle + kappa*bow[k]
		sum[k] += late
		sq[k] += late * late
	}
}

// accumulate adds the cycles of one stretch. Acceleration is taken from the
// cycles before and after.
func (a averager) accumulate(p stretchOfCycles) {
	m := len(a.angles)
	skip := p.filled
	var at binWalk
	var b *binSum
	for base := m; base+2*m < len(p.t); base += m {
		for len(skip) > 0 && skip[0] < base-m {
			skip = skip[1:]
		}
		if doubtful(skip, base, m) {
			continue
		}
		t0 := p.t[base]
		cycle := p.t[base+m] - t0
		kappa := ((p.t[base+2*m] - p.t[base+m]) - (t0 - p.t[base-m])) / (2 * cycle)
		if at.move(120 / cycle) {
			if b = a.bins[at.bin]; b == nil {
				b = &binSum{sum: make([]float64, m), sq: make([]float64, m)}
				a.bins[at.bin] = b
			}
		}
		a.add(b, p.t[base:base+m], cycle, kappa)
	}
}

// bestClock is the scatter of an edge in seconds that no logger falls below, and
// usualJitter what is taken for granted where nothing better can be measured.
const (
	bestClock   = 2e-7
	usualJitter = 2e-6
)

// doubtful reports whether one of the marks filled in (ascending, from the cycle
// before on) lies in the cycle, or limits the cycles beside it.
func doubtful(filled []int, base, m int) bool {
	for _, i := range filled {
		if i > base+2*m {
			return false
		}
		if i >= base && i <= base+m || i == base-m || i == base+2*m {
			return true
		}
	}
	return false
}

// edgeJitter estimates the scatter of one edge in seconds from the change of
// the third difference of edge times between one cycle and the next: speed,
// acceleration and spacing fall out. Few marks span whole firings, whose own
// scatter then counts as jitter: an upper limit.
func edgeJitter(c *clock) float64 {
	m := c.perCycle()
	stride := 1 + 4*m/(m+4*fewMarks)
	var off []float64
	for _, p := range c.parts {
		for base := 0; base+2*m < len(p.t) && len(off) < 20000; base += m {
			for k := 0; k+3 < m; k += stride {
				w := thirdDifference(c.angles[k : k+4])
				d := 0.0
				for i, x := range w {
					d += x * ((p.t[base+k+i] - p.t[base+k]) - (p.t[base+m+k+i] - p.t[base+m+k]))
				}
				off = append(off, math.Abs(d))
			}
		}
	}
	if len(off) < 20 {
		return usualJitter
	}
	sigma := median(off) / 0.6745 / math.Sqrt2 // of |x|, and of a difference of two
	if m < 4*fewMarks {
		sigma = min(sigma, usualJitter)
	}
	return max(bestClock, sigma)
}

// thirdDifference are the weights of four marks that see neither speed nor
// acceleration, of unit length.
func thirdDifference(angles []float64) (w [4]float64) {
	norm := 0.0
	for i := range w {
		w[i] = 1
		for j := range w {
			if j != i {
				w[i] /= angles[i] - angles[j]
			}
		}
		norm += w[i] * w[i]
	}
	for i := range w {
		w[i] /= math.Sqrt(norm)
	}
	return w
}
