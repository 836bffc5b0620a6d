package order

import (
	"math"
	"slices"
)

const (
	replayFrom = 1.2  // s before a cut from where the phase is followed
	replayLong = 5.0  // s of the cut that are followed
	cutDoubt   = 0.7  // s to each side of the typed time
	unlikely   = -9.0 // logarithm below which a slot is not looked into
)

// replay is what a second look at a cut shows.
type replay struct {
	gone   []float64     // log-likelihood that this slot fell quiet, the last for none
	fall   float64       // lowest speed in it over that before
	shares [][][]float64 // of the slots when this one fell quiet and so many are dead, nil where unlikely or unsettled
}

// rerun follows a cut again from the known phase before, once for every slot
// of the cycle that may have fallen quiet. It reports false when the phase
// before is not known well enough.
func (r reel) rerun(before []cycle, bands []int, starts []int, n int) (replay, bool) {
	places := placesPerFiring * n
	var length float64
	for _, c := range before {
		length += c.seconds / float64(len(before))
	}
	f, c := newFilm(r, bands, length/float64(n)), newClock(before)
	s, ok := newScore(f, c, places)
	from, to := f.frameAt(r.From-replayFrom), f.frameAt(min(r.From+replayLong, r.To-cutMargin))
	if !ok || to <= from {
		return replay{}, false
	}
	phase, hz, ok := c.at(f.at(from))
	if !ok {
		return replay{}, false
	}
	settled, run := f.frameAt(r.From+cutDoubt), max(int(length/f.step), 1)
	var gains []loudness
	for _, row := range f.rows {
		gains = append(gains, loudnessOf(row, run, 0, from, settled, to))
	}
	heard := newHeardAs(f, s, starts, from, to, gains)
	out := replay{gone: make([]float64, n+1), shares: make([][][]float64, n)}
	works := make([]*heardWork, n+1)
	for j := range works {
		works[j] = newHeardWork(len(bands), places)
		w := newFollower(f, places, phase, hz)
		w.from, w.to = r.From-cutDoubt, r.From+cutDoubt
		out.gone[j] = w.through(heard, starts, j, from, settled, works[j])
		if out.gone[j] == slices.Max(out.gone[:j+1]) {
			out.fall = w.lowest / hz
		}
	}
	was, best := workBefore(f, c, len(bands), places, from), slices.Max(out.gone)
	for j := range n {
		if out.gone[j] > best+unlikely {
			pairs := curvePairs(was, works[j], n)
			out.shares[j] = sharesByDead(pairs, j, n)
		}
	}
	return out, true
}

// sharesByDead gives the shares when none, one or two are dead already; nil
// where the sound does not settle them.
func sharesByDead(pairs []spectrumPair, slot, n int) [][]float64 {
	var out [][]float64
	for dead := range 3 {
		s, ok := sharesOf(pairs, slot, n, loadGain(n-dead))
		if !ok {
			return nil
		}
		out = append(out, s)
	}
	return out
}

// workBefore gathers the frames before the cut by the lock's clock.
func workBefore(f film, c clock, bands, places, to int) *heardWork {
	w := newHeardWork(bands, places)
	for i := range to {
		if phase, _, ok := c.at(f.at(i)); ok {
			w.add(min(int(phase*float64(places)), places-1), f, i, 1)
		}
	}
	return w
}

// through follows the film when slot j is gone, and returns the logarithm of
// the chance of all that is heard. From the frame settled on it gathers how
// strong the firings are.
func (w *follower) through(h heardAs, starts []int, j, from, settled int, work *heardWork) float64 {
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
		if from+i >= settled {
			for _, at := range w.busy {
				work.add(at%w.places, w.film, from+i, w.now[at])
			}
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
