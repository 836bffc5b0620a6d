package cutout

import (
	"math"
	"slices"
)

// event is a sudden change of load: size > 0 slows the engine, in the unit of
// the record as early drop; z is size in standard deviations.
type event struct {
	at, size, z float64
}

// seen is the least |z| of an event found by searching: among the some ten
// thousand places tried, noise alone reaches about 4.
const seen = 4.2

// pursue finds events beyond those already known, one after the other, each
// time refitting all, until nothing stands out by least standard deviations.
func (m *model) pursue(s shape, known []event, least float64, most int) []event {
	t := m.template(s)
	events := slices.Clone(known)
	residual := m.fitEvents(s, events).residual
	for len(events) < len(known)+most {
		at, z := m.strongest(t, residual, events)
		if math.Abs(z) < least {
			break
		}
		events = append(events, event{at: at})
		residual = m.fitEvents(s, events).residual
	}
	m.setNoise(residual)
	return events
}

// search finds the events of a whole record, learning control and noise on the
// way from what has been found so far.
func (m *model) search(most int) (shape, []event) {
	s := m.chooseShape(most)
	events := m.pursue(s, nil, seen-0.7, most)
	for range 3 {
		if len(events) == 0 {
			break
		}
		m.setNoise(m.fitEvents(s, events).residual)
		s = m.reshape(events)
		m.setNoise(m.fitEvents(s, events).residual)
		events = m.keep(s, m.pursue(s, events, seen, most), seen)
	}
	return s, events
}

// keep refits and drops the events that no longer stand out, by time.
func (m *model) keep(s shape, events []event, least float64) []event {
	for range 2 {
		m.fitEvents(s, events)
		events = slices.DeleteFunc(events, func(e event) bool { return math.Abs(e.z) < least })
	}
	m.fitEvents(s, events)
	slices.SortFunc(events, func(a, b event) int { return int(math.Copysign(1, a.at-b.at)) })
	return events
}

// fitEvents fits all events at once and puts size and z into them.
func (m *model) fitEvents(s shape, events []event) fitted {
	columns := make([]column, len(events))
	for i, e := range events {
		columns[i] = m.column(s, e.at)
	}
	f := m.fit(columns)
	for i := range events {
		events[i].size = f.value[i]
		events[i].z = f.value[i] / math.Max(f.sigma[i], 1e-12)
	}
	return f
}

// template is the whitened answer with some room before it for the running
// mean, and where in it the event is.
type template struct {
	x    []float64
	lead int
	norm float64
}

func (m *model) template(s shape) template {
	lead, tail := int(2/m.step), int(shapeTail/m.step)
	around := int(detrendSeconds / m.step)
	raw := make([]float64, around+tail+around)
	copy(raw[around:], s.sampled(0, m.step, tail+around))
	flat := grid{step: m.step, y: raw}
	white := m.whiten(flat.detrend(raw, detrendSeconds))[around-lead : around+tail]
	t := template{x: white, lead: lead}
	for _, v := range white {
		t.norm += v * v
	}
	return t
}

// strongest is the place where the template fits best that is not right beside
// an event already taken.
func (m *model) strongest(t template, residual []float64, taken []event) (at, z float64) {
	white := m.whiten(residual)
	noise := robustSigma(white)
	best := 0.0
	for k := range white {
		when := m.at(k)
		if near(when, taken, 0.35) || math.IsNaN(m.mask[k]) {
			continue
		}
		if v := t.match(white, k) / noise; math.Abs(v) > math.Abs(best) {
			best, at = v, when
		}
	}
	return at, best
}

// match is the amplitude of the template at cell k over its standard deviation
// for noise 1. Missing samples count as nothing in both.
func (t template) match(white []float64, k int) float64 {
	sum, norm := t.along(white, k)
	if norm < leastOfAnswer*t.norm {
		return 0
	}
	return sum / math.Sqrt(norm)
}

// leastOfAnswer is the share of the answer that must be recorded.
const leastOfAnswer = 0.3

// along is the scalar product of the template at cell k with what is there, and
// with itself.
func (t template) along(white []float64, k int) (sum, norm float64) {
	for j, v := range t.x {
		i := k - t.lead + j
		if i < 0 || i >= len(white) || math.IsNaN(white[i]) {
			continue
		}
		sum += v * white[i]
		norm += v * v
	}
	return sum, norm
}

func near(at float64, events []event, within float64) bool {
	return slices.ContainsFunc(events, func(e event) bool { return math.Abs(e.at-at) < within })
}

// robustSigma is the standard deviation by the median of absolute values.
func robustSigma(x []float64) float64 {
	var a []float64
	for _, v := range x {
		if !math.IsNaN(v) {
			a = append(a, math.Abs(v))
		}
	}
	return math.Max(median(a)/0.6745, 1e-9)
}

// chooseShape picks the answer that explains most of the record: the sum of the
// squares of its strongest separate matches.
func (m *model) chooseShape(most int) shape {
	noise := robustSigma(m.white)
	score := make([]float64, len(m.white))
	return bestShape(func(s shape) float64 {
		t := m.template(s)
		for k := range score {
			score[k] = 0
			if !math.IsNaN(m.white[k]) {
				score[k] = math.Abs(t.match(m.white, k)) / noise
			}
		}
		return -m.peaks(score, most)
	})
}

// peaks sums the squares of the highest separate values of score, which it
// uses up.
func (m *model) peaks(score []float64, most int) (sum float64) {
	apart := int(1.5 / m.step)
	for range most {
		k := slices.Index(score, slices.Max(score))
		if score[k] < 2.5 {
			break
		}
		sum += score[k] * score[k]
		for j := max(k-apart, 0); j < min(k+apart, len(score)); j++ {
			score[j] = 0
		}
	}
	return sum
}

// reshape picks the best answer for known events by refitting all.
func (m *model) reshape(events []event) shape {
	return bestShape(func(s shape) float64 { return m.fitEvents(s, slices.Clone(events)).cost })
}

// expectation says how far from where it is an event may be looked for, how
// likely each place is beforehand, in natural logarithms, and which sign it has:
// 1, −1 or 0 for either.
type expectation interface {
	window(i int) (from, to float64)
	log(i int, at float64) float64
	sign(i int) float64
}

// anywhere is for events found by searching: within half a second.
type anywhere struct{}

func (anywhere) window(int) (from, to float64) { return math.NaN(), math.NaN() }
func (anywhere) log(int, float64) float64      { return 0 }
func (anywhere) sign(int) float64              { return 0 }

// sharpen moves each event to where the record most likely has it.
func (m *model) sharpen(s shape, events []event, e expectation) {
	for range 2 {
		f := m.fitEvents(s, events)
		for i := range events {
			from, to := e.window(i)
			if math.IsNaN(from) {
				from, to = events[i].at-0.5, events[i].at+0.5
			}
			m.shift(s, &events[i], f, from, to, e.sign(i), func(at float64) float64 { return e.log(i, at) })
		}
	}
	m.fitEvents(s, events)
}

// temper is how much of the likelihood counts against the expectation: the
// answer assumed is never quite right, and a hunting idle has falls and rises of
// its own.
const temper = 0.35

// placesPerStep is how finely an event is placed.
const placesPerStep = 4

// shift moves one event between from and to, to where what it takes out of the
// residual, its own part added back, and the expectation are together greatest.
// A change of the wrong sign explains nothing.
func (m *model) shift(s shape, e *event, f fitted, from, to, sign float64, expect func(float64) float64) {
	first, last := max(m.index(from-4), 0), min(m.index(to+5), len(m.y))
	if last-first < 2*len(m.phi) {
		return
	}
	alone := make([]float64, last-first)
	for i, v := range m.columnPart(s, e.at, first, last) {
		alone[i] = f.residual[first+i] + e.size*v
	}
	white := m.whiten(alone)
	best, at := math.Inf(-1), e.at
	var answers [placesPerStep][]float64 // of the first cell's places; later ones are the same, cells on
	for place := range int((to-from)/m.step*placesPerStep) + 1 {
		when := from + float64(place)*m.step/placesPerStep
		cells, sub := place/placesPerStep, place%placesPerStep
		if cells == 0 {
			answers[sub] = m.whiten(m.columnPart(s, when, first, last))
		}
		c := answers[sub]
		var sum, norm float64
		for k := cells; k < len(white); k++ {
			if v, w := white[k], c[k-cells]; !math.IsNaN(v) && !math.IsNaN(w) {
				sum, norm = sum+v*w, norm+w*w
			}
		}
		if sum*sign < 0 {
			sum = 0
		}
		gain := temper*sum*sum/math.Max(norm, 1e-12)/(2*f.noise*f.noise) + expect(when)
		if gain > best {
			best, at = gain, when
		}
	}
	e.at = at
}

// columnPart is the answer itself from cell from to cell to, not detrended: the
// running mean hardly differs between places so near.
func (m *model) columnPart(s shape, at float64, from, to int) []float64 {
	return s.sampled(m.at(from)-at, m.step, to-from)
}
