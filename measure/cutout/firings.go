package cutout

import (
	"math"
	"slices"

	"halforder/engine"
)

// firings reads what each firing of the cycle lost during a cut. What a firing
// leaves in a cycle is the same for all of them, turned by the angle between them:
// the harmonics of a lost one show which it was and how much it did. Unlike the
// speed this does not care for idle control, or for what the other cylinders gain.
type firings struct {
	layout engine.Layout
	width  int       // harmonics of all bands
	order  []int     // harmonic of the cycle, by place
	alike  float64   // how much cylinders that do the same differ, as a share
	noise  []float64 // variance of real or imaginary part of one look, by place
	lost   []loss    // by cut
}

// loss is how the cycle changed at a cut.
type loss struct {
	change []complex128 // by place, the cut less what lies beside it; nil: not measured
	share  float64      // variance of change in units of noise
}

// Stretches beside a cut that it is compared with, s, and the least of looks in
// each.
const besideLosses, leastLooks = 12.0, 6

func (c Cycles) firings(l engine.Layout, cuts []Cut) *firings {
	if c.Harmonics < 2 || c.width() == 0 {
		return nil
	}
	f := &firings{layout: l, width: c.width() / 2, alike: c.Alike}
	for i := range f.width {
		f.order = append(f.order, i%c.Harmonics+1)
	}
	f.noise = make([]float64, f.width)
	var counted float64
	for i, k := range cuts {
		settle := min(settleSeconds, k.length()/3)
		from, to := k.Start-besideLosses, k.End+clearSeconds+besideLosses
		if i > 0 {
			from = math.Max(from, cuts[i-1].End+clearSeconds)
		}
		if i+1 < len(cuts) {
			to = math.Min(to, cuts[i+1].Start-sureBefore)
		}
		inside := c.between(k.Start+settle, k.End-0.2)
		before, after := c.between(from, k.Start-sureBefore), c.between(k.End+clearSeconds, to)
		if k.Stalled || len(inside) < leastLooks || len(before)+len(after) < 2*leastLooks {
			f.lost = append(f.lost, loss{})
			continue
		}
		f.lost = append(f.lost, f.compare(inside, before, after))
		for _, x := range [][][]float64{inside, before, after} {
			counted += f.scatter(x)
		}
	}
	for i := range f.noise {
		f.noise[i] /= math.Max(counted, 1)
	}
	return f
}

// compare is inside less the mean of both sides. Looks overlap by half: two count
// as one.
func (f *firings) compare(inside, before, after [][]float64) loss {
	l := loss{change: meanLook(inside, f.width), share: 2 / float64(len(inside))}
	var sides [][][]float64
	for _, x := range [][][]float64{before, after} {
		if len(x) >= leastLooks {
			sides = append(sides, x)
		}
	}
	if len(sides) == 0 {
		sides = [][][]float64{slices.Concat(before, after)}
	}
	part := 1 / float64(len(sides))
	for _, x := range sides {
		for i, v := range meanLook(x, f.width) {
			l.change[i] -= complex(part, 0) * v
		}
		l.share += part * part * 2 / float64(len(x))
	}
	return l
}

func meanLook(looks [][]float64, width int) []complex128 {
	out := make([]complex128, width)
	for _, x := range looks {
		for i := range out {
			out[i] += complex(x[2*i], x[2*i+1])
		}
	}
	for i := range out {
		out[i] /= complex(float64(len(looks)), 0)
	}
	return out
}

// scatter adds the squares of looks about their mean to the noise, and says how
// many real ones that were.
func (f *firings) scatter(looks [][]float64) float64 {
	if len(looks) < leastLooks {
		return 0
	}
	mean := meanLook(looks, f.width)
	for _, x := range looks {
		for i, m := range mean {
			re, im := x[2*i]-real(m), x[2*i+1]-imag(m)
			f.noise[i] += (re*re + im*im) / 2
		}
	}
	return float64(len(looks) - 1)
}
