package cutout

import (
	"math"
	"slices"
)

// mergeWithin is how near a change of load may lie to a boundary of a cut and
// still be part of the cut's own answer, s.
const mergeWithin = 0.4

// measure fills in the effects of every guess's cuts.
func (a *analysis) measure(guesses []guess) {
	byOrder := len(guesses) > 0 && guesses[0].slope > 0
	if byOrder {
		found := a.withStalls(a.cuts)
		a.measureSpeed(found)
		a.newPlacing(found).hear(guesses, found)
	}
	for i, g := range guesses {
		if !byOrder || i == 0 {
			a.measureSpeed(g.cuts)
		} else {
			a.fitSpeed(g.cuts)
		}
		a.Cycles.place(g.cuts)
		a.measureRough(g.cuts)
		a.measureLosses(g.cuts)
	}
	a.chooseEffort(guesses)
}

// measureSpeed fits all boundaries of the cuts, and all other changes of load,
// to the speed at once.
func (a *analysis) measureSpeed(cuts []Cut) {
	events := append(endsOf(cuts), a.loads(cuts)...)
	a.speed.setNoise(a.speed.fitEvents(a.shape, events).residual)
	a.shape = a.speed.reshape(events)
	a.speed.setNoise(a.speed.fitEvents(a.shape, events).residual)
	a.fitSpeed(cuts)
}

// fitSpeed is the same with control and noise as they are known by now.
func (a *analysis) fitSpeed(cuts []Cut) {
	events := append(endsOf(cuts), a.loads(cuts)...)
	f := a.speed.fitEvents(a.shape, events)
	for i := range cuts {
		cuts[i].Drop = Estimate{f.value[2*i], f.sigma[2*i]}
		cuts[i].Rise = Estimate{-f.value[2*i+1], f.sigma[2*i+1]}
		if cuts[i].Stalled {
			a.stalledDrop(&cuts[i])
		}
	}
	a.compareEnds(cuts)
}

// stalledDrop: of a cut that stopped the engine only the beginning counts, and
// if that was too short to fit, or the fit says more than an engine can lose, the
// fall that was seen.
func (a *analysis) stalledDrop(c *Cut) {
	c.Rise = Estimate{0, math.Inf(1)}
	before := a.speed.grid.mean(c.Start-3, c.Start)
	least, most := 0.3*a.idle, 0.6*a.idle
	if (c.Drop.Value < least || c.Drop.Value > most) && finite(before) {
		c.Drop = Estimate{least, 0.1 * a.idle}
	}
}

// loads are the changes of load that belong to no cut.
func (a *analysis) loads(cuts []Cut) []event {
	var out []event
	for _, e := range a.events {
		own := slices.ContainsFunc(cuts, func(c Cut) bool {
			return math.Abs(e.at-c.Start) < mergeWithin || math.Abs(e.at-c.End) < mergeWithin
		})
		if !own {
			out = append(out, event{at: e.at})
		}
	}
	return out
}

// compareEnds flags cuts whose beginning and end disagree: something else
// changed at one of them.
func (a *analysis) compareEnds(cuts []Cut) {
	ratio := a.endRatio(cuts)
	for i := range cuts {
		c := &cuts[i]
		if c.Stalled {
			continue
		}
		d := c.Drop.Value - c.Rise.Value/ratio
		sigma := math.Hypot(c.Drop.Sigma, c.Rise.Sigma/ratio)
		allowed := 3*sigma + 0.25*math.Abs(c.Drop.Value+c.Rise.Value/ratio)/2
		c.Disturbed = math.Abs(d) > allowed
	}
}

// endRatio is the usual rise over the usual drop: idle control is not the same
// both ways. From all cuts together, the share of noise in the squares taken out.
func (a *analysis) endRatio(cuts []Cut) float64 {
	var both, square float64
	for _, c := range cuts {
		if c.Stalled || !finite(c.Rise.Sigma) {
			continue
		}
		both += c.Rise.Value * c.Drop.Value
		square += c.Drop.Value*c.Drop.Value - c.Drop.Sigma*c.Drop.Sigma
	}
	if square <= 0 || both <= 0 {
		return 1
	}
	return math.Max(0.1, math.Min(2, both/square))
}

// measureRough puts the change of roughness into the cuts, and moves their
// beginnings to where the roughness changes, which is sharper than the speed.
// Their ends stay where the speed has them: fuel comes back more slowly than it
// goes, and the roughness fades with it.
func (a *analysis) measureRough(cuts []Cut) {
	if len(a.Rough.T) < minSamples {
		return
	}
	if len(a.Cycles.T) == 0 && a.Rough.rate() >= sharpRate {
		for i := range cuts {
			c := &cuts[i]
			if at, ok := a.Rough.jump(c.Start, +1); ok {
				c.Start, c.Seen = at, true
			}
			if at, ok := a.Rough.jump(c.End, -1); ok && !c.EndSeen && at > c.Start+shortestCut {
				c.End, c.EndSeen = at, true
			}
		}
	}
	for i, e := range a.Rough.steady(cuts, busy(cuts, a.stalls)) {
		cuts[i].Rough = &e
	}
}

// measureLosses puts what the firings lost into the cuts.
func (a *analysis) measureLosses(cuts []Cut) {
	if f := a.Cycles.atOneSpeed(a.Speed, cuts).firings(a.Layout, cuts); f != nil {
		f.measure(cuts)
		a.allowForSpeed(cuts)
	}
}

// allowForSpeed makes losses less sure where the engine turned slower than beside
// the cut. It does so at every cut of a cylinder: repeating does not help.
func (a *analysis) allowForSpeed(cuts []Cut) {
	measured := 0
	for _, c := range cuts {
		if c.Loss != nil {
			measured++
		}
	}
	times := math.Sqrt(float64(measured) / float64(a.Layout.N()))
	for i, c := range cuts {
		if c.Loss == nil {
			continue
		}
		sway := a.Cycles.Sways * a.slowing(c)
		cuts[i].Loss.Sigma = math.Hypot(c.Loss.Sigma, times*sway)
		if math.Abs(c.beside) < 2*sway {
			cuts[i].beside = 0 // what seems to have gone elsewhere may have done the same
		}
	}
}

// slowing is by how much the speed during a cut differs from that beside it, as a
// share.
func (a *analysis) slowing(c Cut) float64 {
	inside, n := a.Speed.meanFree(c.Start+min(settleSeconds, c.length()/3), c.End, nil)
	before, nb := a.Speed.meanFree(c.Start-besideSeconds, c.Start-sureBefore, nil)
	after, na := a.Speed.meanFree(c.End+clearSeconds, c.End+besideSeconds, nil)
	if n == 0 || nb+na == 0 {
		return 0
	}
	beside := (before*float64(nb) + after*float64(na)) / float64(nb+na)
	return math.Abs(inside/beside - 1)
}

// Roughness moves the ends of cuts when it comes at least sharpRate times a
// second and jumps, within jumpReach of the end, by jumpClear times the noise of
// means over jumpMean.
const (
	sharpRate = 5.0
	jumpReach = 1.2
	jumpMean  = 0.8
	jumpClear = 5.0
	jumpPrior = 0.25 // s, how well the speed places an end
)

// jump is where the track most likely changes near a time that the speed gave,
// in the direction of sign; ok is false when it does not clearly change there.
func (t Track) jump(near, sign float64) (at float64, ok bool) {
	noise := longRunSigma(t.Y) / math.Sqrt(jumpMean*t.rate()) * math.Sqrt2
	best := math.Inf(-1)
	for x := near - jumpReach; x <= near+jumpReach; x += 0.05 {
		before, nb := t.meanFree(x-jumpMean, x, nil)
		after, na := t.meanFree(x, x+jumpMean, nil)
		z, off := sign*(after-before)/noise, (x-near)/jumpPrior
		if v := temper*z*z/2 - off*off/2; nb > 2 && na > 2 && z > jumpClear && v > best {
			best, at, ok = v, x, true
		}
	}
	return at, ok
}

// chooseEffort keeps the effort that answers best to the cuts of the likeliest
// guess.
func (a *analysis) chooseEffort(guesses []guess) {
	if len(guesses) == 0 {
		return
	}
	best := 0.0
	for i, e := range a.Efforts {
		if len(e.T) < minSamples {
			continue
		}
		var score float64
		for _, v := range e.steady(guesses[0].cuts, a.busyWithLoads(guesses[0].cuts)) {
			if z := v.Value / v.Sigma; finite(z) {
				score += min(z*z, 100)
			}
		}
		if score > best {
			best, a.effort = score, i
		}
	}
	if a.effort < 0 {
		return
	}
	for _, g := range guesses {
		sign := 1.0
		values := a.Efforts[a.effort].steady(g.cuts, a.busyWithLoads(g.cuts))
		if sumOf(values) < 0 {
			sign = -1
		}
		for i, v := range values {
			g.cuts[i].Effort = &Estimate{sign * v.Value, v.Sigma}
		}
	}
}

func sumOf(values []Estimate) (sum float64) {
	for _, v := range values {
		if finite(v.Value) {
			sum += v.Value
		}
	}
	return sum
}

// busy are the stretches that no level is taken from.
func busy(cuts []Cut, stalls []span) []span {
	out := slices.Clone(stalls)
	for _, c := range cuts {
		out = append(out, span{c.Start - 0.3, c.End + clearSeconds})
	}
	return out
}

func (a *analysis) busyWithLoads(cuts []Cut) []span {
	out := busy(cuts, a.stalls)
	for _, l := range a.loads(cuts) {
		out = append(out, span{l.at - 0.3, l.at + clearSeconds})
	}
	return out
}
