package cutout

import (
	"math"
	"slices"
)

// meanSpeed is the mean of two tracks on the times of the finer, each weighing
// as much as it is quiet. A lasting difference is taken from b. Where one has nothing, the
// other's samples stand.
func meanSpeed(a, b Track) Track {
	b = b.raised(-medianDifference(a, b))
	na, nb := ownNoise(a, b)
	if b.rate() > a.rate() {
		a, b, na, nb = b, a, nb, na
	}
	share := nb / (na + nb) // of a
	other := reader{Track: b}
	out := Track{T: a.T, Y: slices.Clone(a.Y)}
	for i, t := range a.T {
		if y, ok := other.within(t); ok {
			out.Y[i] = share*a.Y[i] + (1-share)*y
		}
	}
	return out.andBeyond(b)
}

// noiseStep is the spacing at which noise is looked at, s: more than the windows
// over which sound and motion are smoothed.
const noiseStep = 0.4

// leastOwn keeps two tracks that differ from both counting.
const leastOwn = 0.05

// ownNoise is the variance that each track has of its own, (rpm)². What they
// share, the engine's own wander, is in the bends of both alike, so that these
// and the bends of the difference tell the parts.
func ownNoise(a, b Track) (na, nb float64) {
	var bendsA, bendsB, bendsOfDifference []float64
	ra, rb := reader{Track: a}, reader{Track: b}
	var y [3][2]float64
	run := 0
	for t := math.Max(a.T[0], b.T[0]); t <= math.Min(a.T[len(a.T)-1], b.T[len(b.T)-1]); t += noiseStep {
		va, inA := ra.within(t)
		vb, inB := rb.within(t)
		if !inA || !inB {
			run = 0
			continue
		}
		y[0], y[1], y[2] = y[1], y[2], [2]float64{va, vb}
		if run++; run < len(y) {
			continue
		}
		p, q := y[0][0]-2*y[1][0]+y[2][0], y[0][1]-2*y[1][1]+y[2][1]
		bendsA, bendsB = append(bendsA, math.Abs(p)), append(bendsB, math.Abs(q))
		bendsOfDifference = append(bendsOfDifference, math.Abs(p-q))
	}
	if len(bendsA) == 0 {
		return 1, 1
	}
	va, vb, vd := square(median(bendsA)), square(median(bendsB)), square(median(bendsOfDifference))
	if vd == 0 {
		return 1, 1 // the same twice
	}
	return math.Max((va-vb+vd)/2, leastOwn*vd), math.Max((vb-va+vd)/2, leastOwn*vd)
}

func square(v float64) float64 { return v * v }

// medianDifference is by how much b usually lies above a, 0 where they share no
// time.
func medianDifference(a, b Track) float64 {
	var d []float64
	other := reader{Track: a}
	for i, t := range b.T {
		if y, ok := other.within(t); ok {
			d = append(d, b.Y[i]-y)
		}
	}
	return median(d)
}

func (t Track) raised(by float64) Track {
	out := Track{T: t.T, Y: slices.Clone(t.Y)}
	for i := range out.Y {
		out.Y[i] += by
	}
	return out
}

// andBeyond adds the samples of b where t has none within longestGap.
func (t Track) andBeyond(b Track) Track {
	own := reader{Track: t}
	var out Track
	k := 0
	put := func(at, y float64) { out.T, out.Y = append(out.T, at), append(out.Y, y) }
	for i, at := range b.T {
		if _, ok := own.within(at); ok {
			continue
		}
		for k < len(t.T) && t.T[k] <= at {
			put(t.T[k], t.Y[k])
			k++
		}
		put(at, b.Y[i])
	}
	for ; k < len(t.T); k++ {
		put(t.T[k], t.Y[k])
	}
	return out
}

// reader reads a track between its samples, times ascending.
type reader struct {
	Track
	k int
}

// within is the value at time t where samples lie around it, no further apart
// than longestGap.
func (r *reader) within(t float64) (y float64, ok bool) {
	y = r.at(t)
	if t < r.T[0] || t > r.T[len(r.T)-1] {
		return y, false
	}
	return y, r.k+1 >= len(r.T) || r.T[r.k+1]-r.T[r.k] <= longestGap
}

// at is the value at time t, the end values beyond the ends.
func (r *reader) at(t float64) float64 {
	for r.k+1 < len(r.T) && r.T[r.k+1] <= t {
		r.k++
	}
	if t <= r.T[r.k] || r.k+1 >= len(r.T) {
		return r.Y[r.k]
	}
	f := (t - r.T[r.k]) / (r.T[r.k+1] - r.T[r.k])
	return (1-f)*r.Y[r.k] + f*r.Y[r.k+1]
}
