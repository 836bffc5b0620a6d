package crank

import (
	"slices"
	"sort"
)

// clearQuiet is by how many degrees the longest quiet stretch between cam
// edges must exceed the next longest to serve as the beginning of the cycle.
const clearQuiet = 8.0

// camPattern finds the cam edges of one cycle, in degrees from mark 0 of the
// first turn of the run, and the reference edge: the first after the longest
// quiet stretch. ok is false when the cam does not tell one turn from the other.
//
// A variable cam moves all edges together and slowly; the clusters are formed
// from shares that see it pass, so it widens them and nothing more.
func camPattern(w Wheel, r run, cam []float64) (edges []float64, ref float64, ok bool) {
	at := camAngles(w, r, cam)
	cycles := float64(len(r.t)) / float64(2*len(w.Angles))
	edges = clusters(at, cycles)
	if len(edges) == 0 {
		return nil, 0, false
	}
	if len(edges) == 1 {
		return edges, edges[0], true
	}
	type quiet struct{ before, edge float64 }
	var quiets []quiet
	for i, e := range edges {
		last := edges[(i+len(edges)-1)%len(edges)]
		quiets = append(quiets, quiet{wrapCycle(e - last), e})
	}
	slices.SortFunc(quiets, func(a, b quiet) int {
		if a.before > b.before {
			return -1
		}
		return 1
	})
	return edges, quiets[0].edge, quiets[0].before > quiets[1].before+clearQuiet
}

// camAngles places each cam edge within the cycle by the crank marks around it.
func camAngles(w Wheel, r run, cam []float64) []float64 {
	angles, steps := append(slices.Clone(w.Angles), w.Angles...), slices.Repeat(w.steps(), 2)
	for k := range w.Angles {
		angles[len(w.Angles)+k] += turnDeg
	}
	from := sort.SearchFloat64s(cam, r.t[0])
	out := make([]float64, 0, len(cam)-from)
	i := 0
	for _, t := range cam[from:] {
		if i = lastBefore(r.t, i, t); i+1 == len(r.t) {
			break
		}
		k := (r.first + i) % len(angles)
		out = append(out, wrapCycle(angles[k]+steps[k]*(t-r.t[i])/(r.t[i+1]-r.t[i])))
	}
	return out
}

// lastBefore is the last place from i on whose successor is not before t, in
// strides that double.
func lastBefore(times []float64, i int, t float64) int {
	stride := 1
	for i+stride < len(times) && times[i+stride] < t {
		i += stride
		stride *= 2
	}
	end := min(i+stride, len(times))
	return i + max(0, sort.SearchFloat64s(times[i:end], t)-1)
}

// clusters finds where angles of the cycle heap up: the centre of each heap
// that is there in at least half of the cycles. Heaps are cut apart where no
// angle falls for a few degrees.
func clusters(at []float64, cycles float64) []float64 {
	if len(at) == 0 {
		return nil
	}
	s := sorted64(at)
	cut := 0 // begin after the widest empty place, so that no heap is cut by 0°
	widest := s[0] + cycleDeg - s[len(s)-1]
	for i := 1; i < len(s); i++ {
		if d := s[i] - s[i-1]; d > widest {
			widest, cut = d, i
		}
	}
	turned := append(slices.Clone(s[cut:]), s[:cut]...)
	for i := range turned {
		if turned[i] < s[cut] {
			turned[i] += cycleDeg
		}
	}
	var out []float64
	heap := []float64{turned[0]}
	flush := func() {
		if float64(len(heap)) >= max(0.5*cycles, 2) || cycles < 4 {
			out = append(out, wrapCycle(median(heap)))
		}
	}
	for _, a := range turned[1:] {
		if a-heap[len(heap)-1] > 6 {
			flush()
			heap = heap[:0]
		}
		heap = append(heap, a)
	}
	flush()
	slices.Sort(out)
	return out
}

func sorted64(v []float64) []float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s
}

// labelledClock is the clock of a recording whose edges carry numbers.
func labelledClock(w Wheel, rec Recording) (*clock, error) {
	count := slices.Max(rec.Labels) + 1
	perTurn, err := labelsPerTurn(w, count)
	if err != nil {
		return nil, err
	}
	runs := labelledRuns(rec, count)
	if len(runs) == 0 || len(runs[0].t) < 3*2*perTurn {
		return nil, errTooShort
	}
	learnt, err := learnUneven(perTurn, runs[0].t)
	if err != nil {
		return nil, err
	}
	if w = w.settle(); w.Known() && !evenAngles(w.Angles) {
		learnt = w
	}
	c := &clock{wheel: learnt, hasRef: count == 2*perTurn, decoded: decoded{wheel: learnt, lost: len(runs) - 1}}
	for k := range 2 * perTurn {
		c.angles = append(c.angles, turnDeg*float64(k/perTurn)+learnt.Angles[k%perTurn])
	}
	if c.hasRef {
		c.camEdges = []float64{0}
	}
	for _, r := range runs {
		if len(r.t) >= 2*2*perTurn && (c.hasRef || len(c.parts) == 0) {
			c.parts = append(c.parts, stretchOfCycles{t: r.t})
		}
	}
	return c, nil
}

// labelledRuns cuts the edges where the numbers do not follow; each run begins
// with number 0; the longest comes first.
func labelledRuns(rec Recording, count int) []run {
	var out []run
	for i := 0; i < len(rec.Labels); {
		if rec.Labels[i] != 0 {
			i++
			continue
		}
		j := i + 1
		for j < len(rec.Labels) && rec.Labels[j] == (rec.Labels[j-1]+1)%count {
			j++
		}
		out = append(out, run{t: rec.Crank[i:j]})
		i = j
	}
	slices.SortStableFunc(out, func(a, b run) int { return len(b.t) - len(a.t) })
	return out
}

func labelsPerTurn(w Wheel, count int) (int, error) {
	switch m := w.Marks(); {
	case m == 0 && count%2 == 0 && count <= 2*fewMarks:
		return count / 2, nil // a logger that numbers marks numbers the cycle
	case m != 0 && (count == 2*m || count == m):
		return m, nil
	default:
		return 0, errLabels(w, count)
	}
}
