package crank

import "math"

// Between few marks the speed may change so much that a missed mark passes for a
// slow step and a pulse for a fast one; every mark after it would bear the wrong
// number. Where a compression slows the crank it did so a cycle before: the same
// steps then tell the two apart.

const (
	// fewEven is the share of the expected interval, or its inverse, from which a
	// step is compared with those a cycle before.
	fewEven = 0.9
	// surelyAlike is how far, as a logarithm, an interval that explains the pulse
	// or the missed mark may be from that a cycle before.
	surelyAlike = 0.22
)

// asBefore is the ratio of an interval to what it should be, out of bounds where the
// cycle before says that a mark was missed or that the edge is a pulse.
func (d *decoder) asBefore(r float64, ahead []float64) float64 {
	cycle, last := 2*len(d.steps), len(d.out.t)-1
	if last <= cycle || r > fewEven && r < 1/fewEven {
		return r
	}
	then := d.out.t[last-cycle-1 : last-cycle+3]
	faster := (d.out.t[last] - d.out.t[last-1]) / (then[1] - then[0])
	off := func(to, since float64) float64 { return math.Abs(math.Log((to - d.last) / (since - then[1]) / faster)) }
	one := off(ahead[0], then[2])
	switch {
	case r > 1:
		if two := off(ahead[0], then[3]); two < surelyAlike && two < one {
			return math.Inf(1)
		}
	case len(ahead) > 1:
		if next := off(ahead[1], then[2]); next < surelyAlike && next < one {
			return 0
		}
	}
	return r
}
