package cutout

import (
	"math"
	"slices"

	"halforder/engine"
)

// How a hand follows a button or a prompt (judgement): a connector comes off
// about 0.7 s after, give or take, from 1.5 s before to 3.5 s after.
const (
	handLate, handSpread = 0.7, 1.0
	handFrom, handTo     = -1.5, 3.5
	handSteadiest        = 0.25 // s, however even the ones seen were
	handSeen             = 3.5  // least |z| of an end that the record shows
)

// markedCuts pairs the marks: off and the next on. It returns nil without
// marks, or when some cut has no end mark and has to be searched for.
func markedCuts(marks []Mark, called [][]engine.Cylinder) []Cut {
	marks = slices.Clone(marks)
	slices.SortStableFunc(marks, func(a, b Mark) int { return int(math.Copysign(1, a.At-b.At)) })
	var cuts []Cut
	for i, m := range marks {
		if m.On {
			continue
		}
		c := Cut{Cylinders: m.Cylinders, Start: m.At, Unsure: m.Unsure}
		if i+1 == len(marks) || !marks[i+1].On {
			return nil
		}
		if len(c.Cylinders) == 0 && len(cuts) < len(called) {
			c.Cylinders = called[len(cuts)]
		}
		c.End = max(marks[i+1].At, c.Start+shortestCut)
		cuts = append(cuts, c)
	}
	return cuts
}

// hand knows how late the hand usually was at taking off and at putting back,
// as learnt from the ends that could be seen.
type hand struct {
	marks        []Cut
	late, spread [2]float64 // off, on
}

func newHand(cuts []Cut) *hand {
	return &hand{marks: cuts, late: [2]float64{handLate, handLate}, spread: [2]float64{handSpread, handSpread}}
}

// newClock is for cuts found in another track of the same recording: no hand,
// only the lag of that track.
func newClock(cuts []Cut) *hand {
	return &hand{marks: cuts, late: [2]float64{-0.3, -0.3}, spread: [2]float64{0.4, 0.4}}
}

// mark is the time of the mark of event i: cuts begin at even events and end at
// odd ones.
func (h *hand) mark(i int) float64 {
	if i%2 == 0 {
		return h.marks[i/2].Start
	}
	return h.marks[i/2].End
}

// window keeps an end clear of the other end of its cut.
func (h *hand) window(i int) (from, to float64) {
	at := h.mark(i)
	from, to = at+handFrom, at+handTo
	if half := (h.marks[i/2].End - h.marks[i/2].Start) / 2; i%2 == 0 {
		to = min(to, at+max(half, 1.5))
	} else {
		from = max(from, at-half)
	}
	return from, to
}

func (h *hand) log(i int, at float64) float64 {
	z := (at - h.mark(i) - h.late[i%2]) / h.spread[i%2]
	return -z * z / 2
}

// sign: a cut slows the engine, its end lets it go.
func (h *hand) sign(i int) float64 { return 1 - 2*float64(i%2) }

// learn takes the usual lateness from the ends that were seen.
func (h *hand) learn(events []event) {
	for side := range 2 {
		var late, off []float64
		for i := side; i < 2*len(h.marks); i += 2 {
			if math.Abs(events[i].z) > handSeen {
				late = append(late, events[i].at-h.mark(i))
			}
		}
		if len(late) < 3 {
			continue
		}
		h.late[side] = median(late)
		for _, v := range late {
			off = append(off, math.Abs(v-h.late[side]))
		}
		h.spread[side] = math.Max(median(off)/0.6745*1.2, handSteadiest)
	}
}

// cuts are the cuts with their ends as the events have them.
func (h *hand) cuts(events []event) []Cut {
	out := slices.Clone(h.marks)
	for i := range out {
		a, b := events[2*i], events[2*i+1]
		out[i].Start, out[i].End = a.at, max(b.at, a.at+shortestCut)
		out[i].Seen, out[i].EndSeen = math.Abs(a.z) > handSeen, math.Abs(b.z) > handSeen
	}
	return out
}
