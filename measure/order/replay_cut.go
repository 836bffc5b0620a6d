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
	gone   []float64      // log-likelihood that this slot fell quiet, the last for none
	fall   float64        // lowest speed in it over that before
	shares [][][]float64  // of the slots when this one fell quiet and so many are dead, nil where unlikely or unsettled
	bass   [][]bassShares // the same by the waves of the low band
	phases [][]float64    // of the cycle when this slot fell quiet, by frame
	during [][]cycle      // of the cut when this slot fell quiet
	died   bool           // the engine, in the cut
}

// showing is the film of a cut and how it should look.
type showing struct {
	film
	heard             heardAs
	starts            []int // of the slots, in places
	places            int
	phase, hz         float64 // where it begins
	from, to, settled int     // frames; from settled on the cut has begun
	early, late       float64 // s, between which it begins
	cycle             int     // frames of one
	died              bool    // within it
}

// rerun follows a cut again from the known phase before, once for every slot
// of the cycle that may have fallen quiet. It reports false when the phase
// before is not known well enough.
func (r reel) rerun(before *folded, bands []int, starts []int, work []float64) (replay, bool) {
	n := before.layout.N()
	v, ok := r.show(before.cycles, bands, starts, work)
	if !ok {
		return replay{}, false
	}
	out := v.watch(n, workBefore(v.film, newClock(before.cycles), v.places, v.from))
	out.died = v.died
	out.bass, out.during = make([][]bassShares, n), make([][]cycle, n)
	for j, phases := range out.phases {
		if phases != nil {
			out.during[j] = v.refold(r, phases, before)
			out.bass[j] = before.bassShares(out.during[j], j)
		}
	}
	return out, true
}

// show prepares the film of the cut and how it should look in each act.
func (r reel) show(before []cycle, bands []int, starts []int, work []float64) (showing, bool) {
	n := len(work)
	var length float64
	for _, c := range before {
		length += c.seconds / float64(len(before))
	}
	f, c := newFilm(r, bands, length/float64(n)), newClock(before)
	v := showing{film: f, starts: starts, places: placesPerFiring * n, early: r.From - cutDoubt, late: r.From + cutDoubt,
		from: f.frameAt(r.From - replayFrom), to: f.frameAt(min(r.From+replayLong, r.To-cutMargin)),
		settled: f.frameAt(r.From + cutDoubt), cycle: max(int(length/f.step), 1)}
	if last := v.diesAt(); last < v.to {
		v.died = true
		if last > v.settled+v.cycle {
			v.to = last
		}
	}
	s, ok := newScore(f, c, v.places)
	if !ok || v.to <= v.settled {
		return v, false
	}
	var all []voices
	var change []cutGains
	for b, row := range f.rows {
		all = append(all, voicesOf(s.mean[b], starts, work))
		change = append(change, all[b].gainsOf(row, s.mean[b], v.cycle, 0, v.from, v.settled, v.to))
	}
	v.heard = newHeardAs(f, s, starts, v.from, v.to, all, change)
	v.phase, v.hz, ok = c.at(f.at(v.from))
	return v, ok
}

// diesAt is the frame from which on nothing fires any more, or the end: what
// comes then is silence, and like a firing gone in any slot.
func (v showing) diesAt() int {
	lows, highs := make([]float64, len(v.rows)), make([]float64, len(v.rows))
	for b, row := range v.rows {
		lows[b], highs[b] = extremes(row[:v.from], v.cycle)
	}
	alive, left := v.from, make([]float64, len(v.rows))
	for i := v.from; i+v.cycle <= v.to; i += max(v.cycle/2, 1) {
		for b, row := range v.rows {
			left[b] = (slices.Max(row[i:i+v.cycle]) - lows[b]) / max(highs[b]-lows[b], 1e-30)
		}
		if median(left) > diedShare {
			alive = i + v.cycle
		}
	}
	if v.to-alive < 2*v.cycle {
		return v.to
	}
	return alive
}

// watch plays it for every slot, once to learn how the slot sounds without its
// firing and once to weigh it; and again for those that fit, to hear how strong
// each firing is.
func (v showing) watch(n int, before *heardWork) replay {
	out := replay{shares: make([][][]float64, n), phases: make([][]float64, n)}
	var logs [][]float64
	var acts [][][]float64
	top := math.Inf(-1)
	for j := range n + 1 {
		act, price := v.learnt(j, n)
		w := v.follow(j, act, nil, nil)
		for i := range w.logs {
			w.logs[i] += price * float64(i+1) / float64(len(w.logs))
		}
		logs, acts = append(logs, w.logs), append(acts, act)
		if total := w.logs[len(w.logs)-1]; total > top {
			out.fall, top = w.lowest/v.hz, total
		}
	}
	slips := newSlips(logs)
	out.gone = slips.right
	best := slices.Max(out.gone)
	for j := range n {
		kept := slips.kept(j)
		held := kept[min(v.settled-v.from+v.cycle*heldCycles, len(kept)-1)]
		if out.gone[j] > best+unlikely && held > 0.5 {
			during := newHeardWork(len(v.rows), v.places)
			out.phases[j] = v.follow(j, acts[j], kept, during).phases
			out.shares[j] = sharesByDead(curvePairs(before, during, n), j, n)
		}
	}
	return out
}

// learnt is how slot j sounds without its firing, and the logarithm of the price
// of having learnt it; nothing for none gone.
func (v showing) learnt(j, n int) ([][]float64, float64) {
	if j == n {
		return nil, 0
	}
	first := v.heard.gone(j, v.heard.plainDepths())
	during := newHeardWork(len(v.rows), v.places)
	v.follow(j, first, nil, during)
	depths, price := v.heard.depths(j, during)
	return v.heard.gone(j, depths), price
}

// heldCycles of the cut are needed without a slip to say how strong each firing is.
const heldCycles = 8

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
func workBefore(f film, c clock, places, to int) *heardWork {
	w := newHeardWork(len(f.rows), places)
	for i := range to {
		if phase, _, ok := c.at(f.at(i)); ok {
			w.add(min(int(phase*float64(places)), places-1), f, i, 1)
		}
	}
	return w
}

// follow follows the film when slot j is gone, of which gone says how it sounds.
// Where work is given, it gathers how strong the firings are once the cut has
// begun, each frame with the chance that the phase is still kept, 1 without kept.
func (v showing) follow(j int, gone [][]float64, kept []float64, work *heardWork) *follower {
	w := newFollower(v.film, v.places, v.phase, v.hz)
	w.from, w.to = v.early, v.late
	w.chance[0], w.chance[1] = make([]float64, v.places), make([]float64, v.places)
	for i := range v.heard.before {
		copy(w.chance[0], v.heard.before[i])
		copy(w.chance[1], v.heard.during[i])
		if gone != nil {
			for d, log := range gone[i] {
				w.chance[1][(v.starts[j]+d)%v.places] = log
			}
		}
		w.log += raised(w.chance[0], w.chance[1])
		w.step(v.at(v.from + i))
		w.logs = append(w.logs, w.log)
		if work == nil || v.from+i < v.settled {
			continue
		}
		weight := 1.0
		if kept != nil {
			weight = kept[i]
		}
		for _, at := range w.busy {
			work.add(at%v.places, v.film, v.from+i, weight*w.now[at])
		}
	}
	return w
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
