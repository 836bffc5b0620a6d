package crank

import "math"

// line is a straight line through samples, by least squares. Noise makes a slow
// flank cross the middle several times; the line crosses it once. A flank that is
// mostly one jump, as a Hall sensor's through a capacitor, crosses there.
type line struct {
	origin         float64 // number of the first sample
	n, x, y        float64 // sums, of numbers from the origin on
	xx, xy         float64
	firstY, latest float64
	jump           jump
}

// jump is the largest change from one sample to the next.
type jump struct {
	size     float64
	at       float64 // number of the later sample
	from, to float64
}

// restart begins anew with one sample.
func (l *line) restart(at, y float64) {
	*l = line{origin: at, n: 1, y: y, firstY: y, latest: y}
}

func (l *line) add(at, y float64) {
	x := at - l.origin
	l.n++
	l.x += x
	l.y += y
	l.xx += x * x
	l.xy += x * y
	if size := math.Abs(y - l.latest); size > l.jump.size {
		l.jump = jump{size, at, l.latest, y}
	}
	l.latest = y
}

// crosses is where the line passes a level, in sample numbers within those it
// was laid through, and its slope per sample; ok is false without a slope.
func (l *line) crosses(level float64) (at, slope float64, ok bool) {
	const mostly = 0.6
	if j := l.jump; j.size > mostly*math.Abs(l.latest-l.firstY) && j.size > 0 {
		return j.at - 1 + min(max((level-j.from)/(j.to-j.from), 0), 1), j.size, true
	}
	spread := l.xx - l.x*l.x/l.n
	if !(l.n >= 2 && spread > 0) {
		return 0, 0, false
	}
	slope = (l.xy - l.x*l.y/l.n) / spread
	if slope == 0 || (slope > 0) != (l.latest > l.firstY) { // it wandered: from end to end
		slope = (l.latest - l.firstY) / (l.n - 1)
	}
	x := l.x/l.n + (level-l.y/l.n)/slope
	if !(math.Abs(x) < 1e12) {
		return 0, 0, false
	}
	return l.origin + min(max(x, 0), l.n-1), math.Abs(slope), true
}
