package crank

import "math"

// An interval between these shares of the one before is a tooth like the last,
// without further thought; the share for a step of another length is narrower.
const (
	alikeLow  = 0.75
	alikeHigh = 1.0 / alikeLow
	surelyOff = 0.08
)

// glide takes edges as long as they are marks where the ones before lead to
// expect them and returns how many it took. It is push for the common case,
// many times as fast; only toothed wheels are so foreseeable.
func (d *decoder) glide(edges []float64) (taken int) {
	n := len(d.out.t)
	if n < 3 || len(d.steps) <= fewMarks {
		return 0
	}
	g := glider{at: d.last, latest: d.latest, before: d.latest}
	for taken < len(edges) {
		if end := d.likeUntil[d.mark]; end > d.mark {
			k := g.along(edges[taken:min(taken+end-d.mark, len(edges))], d.steps[d.mark])
			taken, d.mark = taken+k, d.mark+k
			if d.mark < end {
				break
			}
			continue
		}
		if !g.over(edges[taken], d.steps[d.mark]) {
			break
		}
		taken++
		if d.mark++; d.mark == len(d.steps) {
			d.mark = 0
			d.turn()
		}
	}
	if taken > 0 {
		d.last = g.at
		d.pace = g.pace(d.steps[wrapIndex(d.mark-1, len(d.steps))])
		d.take(edges[:taken])
	}
	return taken
}

// take appends marks that are the next edges of the source.
func (d *decoder) take(edges []float64) {
	if d.out.source != nil {
		d.out.extend(len(edges))
	} else {
		d.out.t = append(d.out.t, edges...)
	}
}

// glider is where glide is.
type glider struct {
	at             float64 // seconds, of the last mark
	latest, before float64 // seconds per degree of the last step and the one before
}

// along takes teeth a step of so many degrees apart, as many as are alike.
func (g *glider) along(edges []float64, step float64) int {
	at, last, before := g.at, g.latest*step, g.before*step
	n := 0
	for _, t := range edges {
		dt := t - at
		if !(dt > alikeLow*last && dt < alikeHigh*last) {
			break
		}
		before, last, at = last, dt, t
		n++
	}
	g.at, g.latest, g.before = at, last/step, before/step
	return n
}

// over takes a mark after a step of another length than the one before.
func (g *glider) over(t, step float64) bool {
	s := (t - g.at) / step
	if !(math.Abs(s-g.latest) < surelyOff*g.latest) {
		return false
	}
	g.at, g.latest, g.before = t, s, g.latest
	return true
}

func (g *glider) pace(step float64) pace {
	return pace{slowness: g.latest, latest: g.latest, last: step, growth: (g.latest/g.before - 1) / step / 2}
}
