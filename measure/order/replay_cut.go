package order

import "math"

const (
	replayFrom = 1.2 // s before a cut from where the phase is followed
	replayLong = 3.0 // s of the cut that are followed
	cutDoubt   = 0.7 // s to each side of the typed time
)

// slotGone weighs, for every slot of the cycle before the cut, that it is the
// one which fell quiet; the last value is for none. It is the logarithm of the
// chance of what was heard through the cut. It gives nil when the phase before
// is not known well enough.
func (r reel) slotGone(before []cycle, bands []int, starts []int, n int) []float64 {
	places := placesPerFiring * n
	var length float64
	for _, c := range before {
		length += c.seconds / float64(len(before))
	}
	f, c := newFilm(r, bands, length/float64(n)), newClock(before)
	s, ok := newScore(f, c, places)
	from, to := f.frameAt(r.From-replayFrom), f.frameAt(min(r.From+replayLong, r.To-cutMargin))
	if !ok || to <= from {
		return nil
	}
	phase, hz, ok := c.at(f.at(from))
	if !ok {
		return nil
	}
	var gains []loudness
	settled, run := f.frameAt(r.From+cutDoubt), max(int(length/f.step), 1)
	for _, row := range f.rows {
		gains = append(gains, loudnessOf(row, run, 0, from, settled, to))
	}
	heard := newHeardAs(f, s, starts, from, to, gains)
	out := make([]float64, n+1)
	for j := range out {
		w := newFollower(f, places, phase, hz)
		w.from, w.to = r.From-cutDoubt, r.From+cutDoubt
		if labTrace != nil {
			labTrace(j, w)
		}
		out[j] = w.through(heard, starts, j, from)
	}
	return out
}

var labTrace func(j int, w *follower)

// through follows the film when slot j is gone, and returns the logarithm of
// the chance of all that is heard.
func (w *follower) through(h heardAs, starts []int, j, from int) float64 {
	w.chance[0], w.chance[1] = make([]float64, w.places), make([]float64, w.places)
	for i := range h.before {
		copy(w.chance[0], h.before[i])
		copy(w.chance[1], h.during[i])
		if j < len(starts) {
			for d := range slotWidth(starts, j, w.places) {
				at := (starts[j] + d) % w.places
				w.chance[1][at] = h.gone[i][at]
			}
		}
		w.log += raised(w.chance[0], w.chance[1])
		w.step(w.film.at(from + i))
		if w.trace != nil {
			w.trace(from + i)
		}
	}
	return w.log
}

// raised turns logarithms into chances, the best 1, and returns its logarithm.
func raised(a, b []float64) float64 {
	top := math.Inf(-1)
	for i := range a {
		top = max(top, a[i], b[i])
	}
	for i := range a {
		a[i], b[i] = math.Exp(a[i]-top), math.Exp(b[i]-top)
	}
	return top
}

// frameAt is the first frame at or after a time, within the film.
func (f film) frameAt(t float64) int {
	return min(max(int(math.Ceil((t-f.start)/f.step)), 0), f.frames())
}
