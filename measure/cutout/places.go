package cutout

import (
	"math"
	"slices"
)

// spread is what the speed says of a cut whose place is not known: the logarithm
// of how much likelier the record is with it than without, by amplitude in rpm,
// summed over all places.
type spread struct {
	first, step float64
	log         []float64
}

// Amplitudes tabled, in shares of what one cylinder can give at most; nothing is one of them.
const (
	leastAmplitude, mostAmplitude = -1.0, 4.0
	amplitudes                    = 201
)

// at is the logarithm for one amplitude.
func (s spread) at(amplitude float64) float64 {
	pos := (amplitude - s.first) / s.step
	k := min(max(int(pos), 0), len(s.log)-2)
	f := pos - float64(k)
	return (1-f)*s.log[k] + f*s.log[k+1]
}

// density is at for amplitudes that scatter by sigma (three-point quadrature of
// Gauss and Hermite).
func (s spread) density(amplitude, sigma float64) float64 {
	off := math.Sqrt(3) * sigma
	return 2.0/3*math.Exp(s.at(amplitude)) + (math.Exp(s.at(amplitude-off))+math.Exp(s.at(amplitude+off)))/6
}

// placing looks for the places of cuts that were called and not marked.
type placing struct {
	model    *model
	shape    shape
	ratio    float64   // of a cut's end to its beginning
	most     float64   // rpm, what one cylinder can give at most
	length   float64   // s, usual
	loads    []event   // changes of load that no cut found explains
	residual []float64 // of the speed without cuts and loads
}

// newPlacing takes the cuts found, as measured, out of the speed.
func (a *analysis) newPlacing(found []Cut) placing {
	p := placing{model: a.speed, shape: a.shape, ratio: a.endRatio(found), most: math.Max(a.idle/float64(a.Layout.N()), 1), length: usualLength(found)}
	p.loads = a.loads(found)
	events := append(endsOf(found), p.loads...)
	p.residual = a.speed.fitEvents(a.shape, events).residual
	copy(p.loads, events[2*len(found):]) // as measured
	return p
}

func (p placing) add(to []float64, at, size float64) {
	c := p.model.column(p.shape, at)
	for i, v := range c.x {
		to[c.from+i] += size * v
	}
}

// expected is where a cut may lie beforehand.
type expected struct {
	from, to      float64 // s, of its beginning
	last          float64 // s, latest end
	centre, sigma float64 // of its beginning; sigma 0: anywhere between
	stride        int     // cells from place to place
	taken         []Cut   // what was found there and is taken for something else
}

// lengthSpread is how much cuts differ in length, as a share (judgement).
const lengthSpread = 0.35

// strays is the share of cuts that do not keep to the rhythm (judgement).
const strays = 0.1

func (e expected) log(at float64) float64 {
	if e.sigma == 0 {
		return 0
	}
	z := (at - e.centre) / e.sigma
	return math.Log((1-strays)*math.Exp(-z*z/2)/e.sigma + strays/math.Max(e.to-e.from, e.sigma))
}

// spot is one place of a cut: how likely beforehand, and the amplitude there.
type spot struct {
	prior float64
	Estimate
}

// gain is how much an amplitude explains, natural logarithm.
func (s spot) gain(a float64) float64 { return a * (s.Value - a/2) / (s.Sigma * s.Sigma) }

// place sums over the places of one cut, and says which is the likeliest.
func (p placing) place(c scan, e expected) (s spread, best Cut) {
	m := p.model
	var spots []spot
	top := math.Inf(-1)
	stride := max(e.stride, 1)
	for k := max(m.index(e.from), 0); k <= m.index(e.to); k += stride {
		for d := max(int(shortestCut/m.step), 1); m.at(k+d) <= e.last; d += stride {
			x, ok := c.pulse(k, d, p.ratio)
			off := math.Log(float64(d)*m.step/p.length) / lengthSpread
			if !ok || math.Abs(off) > 4 {
				continue
			}
			if touches(e.taken, m.at(k), m.at(k+d)) {
				x.Value = math.Min(x.Value, 0) // what another change leaves there proves no cut
			}
			here := spot{e.log(m.at(k)) - off*off/2, x}
			if v := here.prior + here.gain(math.Max(x.Value, 0)); v > top {
				top, best = v, Cut{Start: m.at(k), End: m.at(k + d)}
			}
			spots = append(spots, here)
		}
	}
	return p.sum(spots), best
}

// sum is flat where there is no place at all.
func (p placing) sum(spots []spot) spread {
	s := spread{first: leastAmplitude * p.most, step: (mostAmplitude - leastAmplitude) * p.most / (amplitudes - 1), log: make([]float64, amplitudes)}
	var priors []float64
	for _, o := range spots {
		priors = append(priors, o.prior)
	}
	total := logSum(priors)
	logs := make([]float64, len(spots))
	for i := range s.log {
		for j, o := range spots {
			logs[j] = o.prior + o.gain(s.first+float64(i)*s.step)
		}
		if len(spots) > 0 {
			s.log[i] = logSum(logs) - total
		}
	}
	return s
}

// How far the places of a cut that was found are summed over, s.
const startReach, endReach = 1.5, 2.0

// whereabouts says of each cut found what the speed says of it wherever it lies
// nearby.
func (p placing) whereabouts(found []Cut) []spread {
	out := make([]spread, len(found))
	for i, f := range found {
		e := expected{from: f.Start - startReach, to: f.Start + startReach, last: f.End + endReach}
		if i > 0 {
			e.from = math.Max(e.from, found[i-1].End+shortestPause)
		}
		if i+1 < len(found) {
			e.last = math.Min(e.last, found[i+1].Start-shortestPause)
		}
		own := append(p.within(e), event{at: f.Start, size: f.Drop.Value}, event{at: f.End, size: -f.Rise.Value})
		out[i], _ = p.place(p.with(own), e)
		out[i].level()
	}
	return out
}

// within are the loads where a cut may lie.
func (p placing) within(e expected) (out []event) {
	for _, l := range p.loads {
		if l.at > e.from-mergeWithin && l.at < e.last+mergeWithin {
			out = append(out, l)
		}
	}
	return out
}

// with is the residual with some changes left in it.
func (p placing) with(events []event) scan {
	x := append([]float64(nil), p.residual...)
	for _, l := range events {
		p.add(x, l.at, l.size)
	}
	return p.model.scan(p.shape, x)
}

// unseen sums over the places of a cut that nobody saw. What was taken for changes
// of load may be this cut, or they may be what they seem and the cut elsewhere.
func (p placing) unseen(e expected, base scan) (s spread, best Cut) {
	loads := p.within(e)
	s, best = p.place(base, e)
	if len(loads) == 0 {
		return s, best
	}
	other, there := p.place(p.with(loads), e)
	seem := 0.0 // how much likelier the loads make the record
	for _, l := range loads {
		seem += math.Max(0, l.z*l.z/2-loadPrice)
	}
	if other.best() > s.best()+seem {
		best = there
	}
	both := logSum([]float64{seem, 0})
	for i := range s.log {
		s.log[i] = logSum([]float64{s.log[i] + seem, other.log[i]}) - both
	}
	return s, best
}

// level brings the greatest logarithm to 0: that a cut found is there is no news.
func (s spread) level() {
	top := s.best()
	for i := range s.log {
		s.log[i] -= top
	}
}

// silent says where the called cut j of a guess that nobody saw may lie: where
// the rhythm has it, between its neighbours.
func (p placing) silent(cuts []Cut, j int, slope float64) expected {
	c := cuts[j]
	e := expected{from: p.model.start, to: p.model.end(), last: p.model.end(), centre: c.Start, stride: int(silentStep / p.model.step)}
	before, after := j-1, j+1
	for before >= 0 && cuts[before].found == 0 {
		before--
	}
	for after < len(cuts) && cuts[after].found == 0 {
		after++
	}
	steps := math.Inf(1) // as many as the nearer side has, both sides together
	if before >= 0 {
		e.from, steps = cuts[before].End+shortestPause, float64(j-before)
		e.centre = cuts[before].Start + steps*slope
	}
	if after < len(cuts) {
		n := float64(after - j)
		e.to, e.last = cuts[after].Start-shortestPause, cuts[after].Start-shortestPause
		e.centre = cuts[after].Start - n*slope
		if before >= 0 {
			e.centre = (cuts[before].Start*n + cuts[after].Start*steps) / (n + steps)
		}
		steps = 1 / (1/steps + 1/n)
	}
	e.sigma = math.Max(spacingSpread*slope*math.Sqrt(math.Min(steps, float64(len(cuts)))), p.model.step)
	e.to = math.Min(e.to, e.last-p.length)
	return e
}

const clipSteps = 140

// clip keeps to the places that the rhythm leaves, and says which share of them
// lies where the cut can have been: in the recording, clear of its neighbours.
func (e *expected) clip() (share float64) {
	var inside, all float64
	first, last := e.centre-silentReach*e.sigma, e.centre+silentReach*e.sigma
	whole := expected{from: first, to: last, centre: e.centre, sigma: e.sigma}
	for i := range clipSteps + 1 {
		at := first + (last-first)*float64(i)/clipSteps
		p := math.Exp(whole.log(at))
		all += p
		if at >= e.from && at <= e.to {
			inside += p
		}
	}
	e.from, e.to = math.Max(e.from, first), math.Min(e.to, last)
	return inside / all
}

// silentReach is how far from the rhythm an unseen cut is looked for, in standard
// deviations, and silentStep how finely, s: the answer takes longer.
const silentReach, silentStep = 3.5, 0.2

// leastShare: a recording may have been begun late or ended early.
const leastShare = 1e-3

// clearlyThere is the least gain of a cut that is looked for at its place.
const clearlyThere = 3.0

// leftOut are the cuts found that a guess does not use.
func leftOut(found, used []Cut) []Cut {
	var out []Cut
	for i, f := range found {
		if !slices.ContainsFunc(used, func(c Cut) bool { return c.found == i+1 }) {
			out = append(out, f)
		}
	}
	return out
}

// hear puts what the speed says into the cuts of all guesses, and moves those
// that nobody saw to where it most likely has them.
func (p placing) hear(guesses []guess, found []Cut) {
	near, base := p.whereabouts(found), p.with(nil)
	for n := range guesses {
		g := &guesses[n]
		for j := range g.cuts {
			c := &g.cuts[j]
			switch {
			case c.Stalled:
			case c.found > 0:
				c.speed = &near[c.found-1]
			default:
				e := p.silent(g.cuts, j, g.slope)
				e.taken = leftOut(found, g.cuts)
				g.logP += math.Log(e.clip() + leastShare)
				s, best := p.unseen(e, base)
				if s.best() > clearlyThere {
					c.Start, c.End = best.Start, best.End
				}
				s.limit(loadPrice)
				c.speed = &s
			}
		}
	}
}

// limit brings the greatest logarithm down to most: what a cut that the search did
// not find explains beyond the price of a change of load may be such a change, and
// says nothing for one way of naming the cuts over another.
func (s spread) limit(most float64) {
	over := s.best() - most
	for i := range s.log {
		s.log[i] -= math.Max(over, 0)
	}
}

func (s spread) best() float64 { return slices.Max(s.log) }
