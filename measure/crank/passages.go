package crank

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// passages are those of a trace through its middle in one direction.
type passages struct {
	times  []float64
	slopes []float32 // as steep as the flank was, any unit
	swings []float32 // the usual swing there
	jumps  []float32 // from one sample to the next, at most, as a share of the swing
}

// Noise before the engine turns has a swing below faint of that of the teeth,
// which leaps by leap where they begin.
const (
	faint = 0.2
	leap  = 3
)

// sinceTurning leaves out the noise before the engine turns.
func (p passages) sinceTurning() passages {
	enough := faint * p.lastingSwing()
	from := 0
	for i := 0; i+4 < len(p.swings) && p.swings[i] < enough; i++ {
		if p.swings[i+4] > leap*p.swings[i] {
			from = i + 1
		}
	}
	return passages{p.times[from:], p.slopes[from:], p.swings[from:], p.jumps[from:]}
}

// lastingSwing is the swing that stands in the middle by time: noise makes many
// passages a second, a cam at cranking speed two.
func (p passages) lastingSwing() float32 {
	type lasting struct {
		swing   float32
		seconds float64
	}
	var all []lasting
	total, stride := 0.0, 1+len(p.times)/describedBy
	for i := stride; i < len(p.times); i += stride {
		all = append(all, lasting{p.swings[i], p.times[i] - p.times[i-stride]})
		total += p.times[i] - p.times[i-stride]
	}
	slices.SortFunc(all, func(a, b lasting) int { return cmp.Compare(a.swing, b.swing) })
	for _, a := range all {
		if total -= 2 * a.seconds; total <= 0 {
			return a.swing
		}
	}
	return 0
}

// fewestTeeth make a trace: a cam passes twice a second while the starter turns.
const fewestTeeth = 3

// Between two teeth the signal of an inductive sensor swings back almost as
// steeply as it fell, but over a gap slowly and at no certain place: a kind of
// passage of which a larger share, by shallowShare, is less than shallow as
// steep as those around it is not that of the teeth. Else steeper is how much
// steeper it must be to be preferred, evener how much evener.
const (
	shallow      = 0.6
	shallowShare = 0.006
	steeper      = 1.25
	muchSteeper  = 2
	evener       = 1.3
)

// Edges are the times of the teeth in seconds from the first sample; falling
// tells that they are those of the falling passages.
func (t *Trace) Edges() (times []float64, falling bool, err error) {
	up, down := t.up.sinceTurning(), t.down.sinceTurning()
	if len(up.times) < fewestTeeth && len(down.times) < fewestTeeth {
		return nil, false, fmt.Errorf("no teeth in %.3g s of trace: the signal hardly moves or never settles", float64(t.n)*t.dt)
	}
	if downBetter(up, down) {
		return down.times, true, nil
	}
	return up.times, false, nil
}

// downBetter reports whether the falling passages are those of the teeth. Of two
// that are alike the rising ones are taken, always.
func downBetter(up, down passages) bool {
	a, b := median32(up.slopes), median32(down.slopes)
	offUp, offDown := up.shallows(), down.shallows()
	switch {
	case len(up.times) < fewestTeeth || len(down.times) < fewestTeeth:
		return len(down.times) > len(up.times)
	case up.usualGap() > slowTeeth && up.square() && down.square():
		return false
	case a > muchSteeper*b:
		return false
	case b > muchSteeper*a:
		return true
	case math.Abs(offUp-offDown) > shallowShare:
		return offDown < offUp
	case a > steeper*b:
		return false
	case b > steeper*a:
		return true
	}
	return evener*unevenness(down.times) < unevenness(up.times)
}

// slowTeeth is a time between passages, seconds, from which they are a cam's,
// whose spacing tells nothing of its edges.
const slowTeeth = 0.04

// square reports whether the signal knows two levels only, as a Hall sensor's:
// it goes far on its way from one sample to the next.
func (p passages) square() bool { return median32(p.jumps) > 0.3 }

// usualGap is the usual time between passages.
func (p passages) usualGap() float64 {
	var gaps []float64
	for i := 1; i < len(p.times) && i < 20000; i++ {
		gaps = append(gaps, p.times[i]-p.times[i-1])
	}
	return median(gaps)
}

// shallows is the share of passages that are much less steep than those around:
// than their median, so than the greater part of them.
func (p passages) shallows() float64 {
	const around = 4
	count, n := 0, 0
	for i := around; i+around < len(p.slopes) && n < 20000; i++ {
		n++
		own, steep := float64(p.slopes[i]), 0
		for _, s := range p.slopes[i-around : i+around+1] {
			if own < shallow*float64(s) {
				steep++
			}
		}
		if steep > around {
			count++
		}
	}
	return float64(count) / float64(max(1, n))
}

func median32(v []float32) float64 {
	if len(v) == 0 {
		return 0
	}
	return float64(ranked(slices.Clone(v), len(v)/2))
}

// unevenness is the mean change from one interval to the next, as a ratio's
// logarithm, without the rarest tenth (gaps).
func unevenness(times []float64) float64 {
	var off []float64
	for i := 2; i < len(times) && len(off) < 20000; i++ {
		off = append(off, math.Abs(math.Log((times[i]-times[i-1])/(times[i-1]-times[i-2]))))
	}
	if len(off) == 0 {
		return math.Inf(1)
	}
	s := sorted64(off)
	total := 0.0
	for _, x := range s[:len(s)*9/10] {
		total += x
	}
	return total / float64(len(s))
}
