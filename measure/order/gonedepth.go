package order

import "math"

// What is left of a band when a firing goes differs from band to band: valves,
// injectors and belts sound on. depth is the share of the way from the full to
// the quiet sound, learnt for each band from the cut itself.
const (
	usualDepth  = 0.8 // judgement (prior)
	depthSpread = 0.4 // judgement (prior)
	mostDepth   = 1.3
)

// gone is how likely each frame is in the places of a slot whose firing is gone,
// and of the next one, by the depths of the bands: logarithms, by frame and place
// from the start of the slot.
func (h heardAs) gone(slot int, depths []float64) [][]float64 {
	width := h.reach(slot)
	out := matrix(len(h.before), width)
	for b, band := range h.bands {
		p := part{make([]float64, width), make([]float64, width), make([]float64, width)}
		for d := range width {
			at, quiet := h.without(band, slot, d)
			p.mean[d] = band.full.mean[at] + depths[b]*(quiet.mean[at]-band.full.mean[at])
			p.inverse[d] = band.full.inverse[at] + min(depths[b], 1)*(quiet.inverse[at]-band.full.inverse[at])
			p.log[d] = math.Log(p.inverse[d])
		}
		for i := range out {
			p.of(out[i], band.row[h.from+i], h.weight)
		}
	}
	return out
}

// reach is how many places hear that the firing of a slot is gone: its own and
// those of the next one.
func (h heardAs) reach(slot int) int {
	places := len(h.before[0])
	width := slotWidth(h.starts, slot, places)
	if n := len(h.starts); n > 1 {
		width += slotWidth(h.starts, (slot+1)%n, places)
	}
	return width
}

// without is the place in the cycle that is d after the start of a slot, and how
// a band sounds there with the firing of that slot gone.
func (h heardAs) without(band bandAs, slot, d int) (at int, quiet part) {
	places := len(h.before[0])
	at, quiet = (h.starts[slot]+d)%places, band.quiet
	if d >= slotWidth(h.starts, slot, places) {
		quiet = band.behind
	}
	return at, quiet
}

// depths of the bands at a slot whose firing is gone, by what was heard there,
// and the logarithm of the price of having learnt them.
func (h heardAs) depths(slot int, during *heardWork) (depths []float64, price float64) {
	width := h.reach(slot)
	prior := 1 / (depthSpread * depthSpread)
	for b, band := range h.bands {
		var along, whole float64
		for d := range width {
			at, quiet := h.without(band, slot, d)
			drop := (band.full.mean[at] - quiet.mean[at]) * quiet.inverse[at]
			heard := band.full.mean[at]*during.counts[at] - during.sums[b][at]
			along += h.weight * heard * quiet.inverse[at] * drop
			whole += h.weight * during.counts[at] * drop * drop
		}
		depth := min(max((along+prior*usualDepth)/(whole+prior), 0), mostDepth)
		depths = append(depths, depth)
		price -= prior*sq(complex(depth-usualDepth, 0))/2 + math.Log1p(whole/prior)/2
	}
	return depths, price
}

// plain depths, before any is learnt.
func (h heardAs) plainDepths() []float64 {
	out := make([]float64, len(h.bands))
	for b := range out {
		out[b] = 1
	}
	return out
}
