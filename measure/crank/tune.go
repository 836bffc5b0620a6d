package crank

import "math"

// The first weighing knows neither how much a firing brings nor how rough road
// and belts are, and expects little of both: it sees deadness and gives the
// scatter. Once the mean cycles have told what a full work is, weighers are made
// for it, for the road that leaves least scatter.

// roughness is torque from outside, as shares of the full work: energy brought
// within roadStep at random, and by how much that changes from one roadStep to
// the next where the torque sways slowly, as on the springs of the drive.
type roughness struct{ random, sway float64 }

// roadsTried are roads and belts from smooth to wild.
var roadsTried = []roughness{{roadScatter, 0}, {0.15, 0}, {0.4, 0}, {0.02, 0.02}, {0.02, 0.06}, {0.02, 0.2}, {0.1, 0.06}, {0.1, 0.2}}

// smoothRoad is tried with longWindows: it hides little.
var smoothRoad = roughness{0.02, 0}

// triedCycles is how many cycles of a range of speeds tell its scatter, and
// fewestTried from how many on it is believed.
const (
	triedCycles = 200
	fewestTried = 12
)

// tune makes weighers anew for the works that the judgements found.
func (a *analysis) tune() {
	s := a.scales
	s.found = map[int]float64{}
	for _, j := range a.judged {
		if _, full := j.meanWork(a.believed()); full > 0 {
			s.found[binOf(j.rpm)] = full / fullWork(len(s.tops), j.rpm)
		}
	}
	s.banks, s.tried = map[int]*bank{}, s.sampleCycles(a.clock)
	a.weighed = s.weighAll(a.clock, false)
	a.stats = statsByBin(a.weighed, len(a.tops))
}

// expected is the work to expect of a firing, relative energy: as found at the
// nearest speed, before that no more than an engine without friction brings,
// for the less is expected, the more the jitter is minded.
func (s *scales) expected(rpm float64) float64 {
	ratio, nearest := 0.0, math.MaxInt
	for bin, r := range s.found {
		if off := max(bin-binOf(rpm), binOf(rpm)-bin); off < nearest || off == nearest && r < ratio {
			ratio, nearest = r, off
		}
	}
	if ratio == 0 {
		return idleWork(len(s.tops), rpm)
	}
	return ratio * fullWork(len(s.tops), rpm)
}

// cyclePlace is a cycle in a stretch.
type cyclePlace struct {
	part stretchOfCycles
	base int
}

// sampleCycles are some cycles of each speed bin that lends its weighers, evenly
// spread: of those met, one in so many.
func (s *scales) sampleCycles(c *clock) map[int][]cyclePlace {
	m := c.perCycle()
	samples := map[int]*cycleSample{}
	for _, p := range c.parts {
		var at binWalk
		var here *cycleSample // nil: the bin lends nothing
		for base := 0; base+m < len(p.t); base += m {
			if at.move(120 / (p.t[base+m] - p.t[base])) {
				if here = samples[at.bin]; here == nil && s.home[at.bin] == at.bin {
					here = &cycleSample{oneIn: 1}
					samples[at.bin] = here
				}
			}
			if here != nil {
				here.meet(cyclePlace{p, base})
			}
		}
	}
	few := map[int][]cyclePlace{}
	for bin, sample := range samples {
		few[bin] = sample.few
	}
	return few
}

// cycleSample takes one in so many of the cycles it meets.
type cycleSample struct {
	few        []cyclePlace
	met, oneIn int
}

func (s *cycleSample) meet(c cyclePlace) {
	if s.met%s.oneIn == 0 {
		s.few = append(s.few, c)
	}
	s.met++
	if len(s.few) == 2*triedCycles {
		s.few, s.oneIn = everySecond(s.few), 2*s.oneIn
	}
}

func everySecond[T any](all []T) []T {
	for i := range len(all) / 2 {
		all[i] = all[2*i]
	}
	return all[:len(all)/2]
}

// scatterBy is the usual scatter of firings weighed by a bank, relative energy;
// 0 where too few can be weighed.
func (b *bank) scatterBy(cycles []cyclePlace) float64 {
	sum := 0.0
	for k := range b.weighers {
		var works []float64
		for _, c := range cycles {
			if f, ok := b.weighers[k].weigh(c.part.t, c.base); ok {
				works = append(works, float64(f.work))
			}
		}
		if len(works) < fewestTried {
			return 0
		}
		sum += describe(works).dev / float64(len(b.weighers))
	}
	return sum
}
