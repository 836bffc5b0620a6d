package order

import "math"

const (
	slewSpread = 0.045 // spread of the change of speed from hop to hop, as a ratio
	slewLimit  = 0.28  // largest change within a hop: a quarter of the speed in half a second
	jumpCost   = 30.0  // engine restarted, or the path was wrong
)

// tracker finds the best path of cycle rates through the scores of the hops.
type tracker struct {
	total []float64
	back  [][]int16 // by pending hop and grid place: where the best path came from
	best  []float64 // by pending hop: score of the best path's place, for confidence
	next  []float64
	reach int
	cost  []float64
}

func newTracker(places int) *tracker {
	t := &tracker{total: make([]float64, places), next: make([]float64, places)}
	t.reach = int(slewLimit / gridStep)
	t.cost = make([]float64, t.reach+1)
	for d := range t.cost {
		z := float64(d) * gridStep / slewSpread
		t.cost[d] = 2*z - 2 // linear: a sudden change is no rarity
	}
	return t
}

// add extends all paths by one hop. Paths further than jumpCost below the best
// cannot win any more and are not followed.
func (t *tracker) add(scores []float64) {
	top := 0
	for k, v := range t.total {
		if v > t.total[top] {
			top = k
		}
	}
	floor := t.total[top] - jumpCost
	first, last := top, top
	for k, v := range t.total {
		if v > floor {
			first, last = min(first, k), k
		} else {
			t.total[k] = math.Inf(-1)
		}
		t.next[k] = floor
	}
	back := make([]int16, len(scores))
	t.extend(back, max(first-t.reach, 0), min(last+t.reach+1, len(scores)), first, last)
	for k, s := range scores {
		if !(t.next[k] > floor) {
			t.next[k], back[k] = floor, int16(top)
		}
		t.next[k] += s - t.total[top]
	}
	t.total, t.next = t.next, t.total
	t.back = append(t.back, back)
}

// extend finds where the best paths to places from lo to before hi come from,
// which is between first and last and within reach: by halves, for as a change costs the more the
// longer it is, the best paths never cross.
func (t *tracker) extend(back []int16, lo, hi, first, last int) {
	if lo >= hi {
		return
	}
	middle := (lo + hi) / 2
	from := max(first, middle-t.reach)
	best, where := math.Inf(-1), from
	for i, v := range t.total[from : min(last, middle+t.reach)+1] {
		if v -= t.cost[abs(middle-from-i)]; v > best {
			best, where = v, from+i
		}
	}
	t.next[middle], back[middle] = best, int16(where)
	t.extend(back, lo, middle, first, where)
	t.extend(back, middle+1, hi, where, last)
}

// path gives the best place of every pending hop.
func (t *tracker) path() []int {
	k := 0
	for i, v := range t.total {
		if v > t.total[k] {
			k = i
		}
	}
	out := make([]int, len(t.back))
	for i := len(t.back) - 1; i >= 0; i-- {
		out[i] = k
		k = int(t.back[i][k])
	}
	return out
}

// prefer fixes the newest place.
func (t *tracker) prefer(k int) {
	for i := range t.total {
		if i != k {
			t.total[i] = math.Inf(-1)
		}
	}
}

// forget drops the first n pending hops: the last of them is decided to be at
// place k. Paths that came from elsewhere were not taken: from now on they count
// as jumps, however well they fitted until then.
func (t *tracker) forget(n, k int) {
	near := int(math.Round(slewSpread / gridStep))
	came, top := t.came(n), math.Inf(-1)
	for i, v := range t.total {
		if abs(int(came[i])-k) <= near {
			top = max(top, v)
		}
	}
	for i := range t.total {
		if abs(int(came[i])-k) > near {
			t.total[i] = min(t.total[i], top-jumpCost)
		}
	}
	t.back = append([][]int16(nil), t.back[n:]...)
}

// came tells for every place where its best path was at pending hop n-1.
func (t *tracker) came(n int) []int16 {
	at := make([]int16, len(t.total))
	for i := range at {
		at[i] = int16(i)
	}
	for i := len(t.back) - 1; i >= n; i-- {
		back := t.back[i]
		for p, k := range at {
			at[p] = back[k]
		}
	}
	return at
}

// peak refines a grid place with a parabola through its neighbours' scores and
// returns the fraction of a step.
func peak(scores []float64, k int) float64 {
	if k <= 0 || k >= len(scores)-1 {
		return 0
	}
	a, b, c := scores[k-1], scores[k], scores[k+1]
	bend := a - 2*b + c
	if bend >= 0 || math.IsNaN(bend) {
		return 0
	}
	return min(max((a-c)/(2*bend), -0.5), 0.5)
}

func abs(x int) int { return max(x, -x) }
