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
const seen = 5.0

// closest is how near two events of opposite sign may lie, s.
const closest = 0.7

// pursue finds the events in the record that answer like s, one after the
// other, each time refitting all, until nothing stands out.
func (m *model) pursue(s shape, most int) []event {
	template := m.template(s)
	var events []event
	residual := m.y
	for len(events) < most {
		at, z := m.strongest(template, residual, events)
		if math.Abs(z) < seen {
			break
		}
		events = append(events, event{at: at})
		f := m.fitEvents(s, events)
		residual = f.residual
		if len(events)%4 == 0 {
			m.setNoise(residual)
		}
	}
	return m.settle(s, events)
}

// settle refits, learns the noise, drops what no longer stands out, by time.
func (m *model) settle(s shape, events []event) []event {
	for range 3 {
		f := m.fitEvents(s, events)
		m.setNoise(f.residual)
		kept := events[:0]
		for _, e := range events {
			if math.Abs(e.z) >= seen {
				kept = append(kept, e)
			}
		}
		events = kept
	}
	m.fitEvents(s, events)
	slices.SortFunc(events, func(a, b event) int { return int(math.Copysign(1, a.at-b.at)) })
	return events
}

// fitEvents fits all events at once and puts size and z into them.
func (m *model) fitEvents(s shape, events []event) fitted {
	columns := make([][]float64, len(events))
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
	var sum, norm float64
	for j, v := range t.x {
		i := k - t.lead + j
		if i < 0 || i >= len(white) || math.IsNaN(white[i]) {
			continue
		}
		sum += v * white[i]
		norm += v * v
	}
	if norm < 0.3*t.norm {
		return 0
	}
	return sum / math.Sqrt(norm)
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
	var best shape
	top := -1.0
	noise := robustSigma(m.white)
	for _, s := range shapes() {
		t := m.template(s)
		score := make([]float64, len(m.white))
		for k := range score {
			if !math.IsNaN(m.white[k]) {
				score[k] = math.Abs(t.match(m.white, k)) / noise
			}
		}
		if v := m.peaks(score, most); v > top {
			top, best = v, s
		}
	}
	return best
}

// peaks sums the squares of the highest separate values above seen.
func (m *model) peaks(score []float64, most int) (sum float64) {
	apart := int(1.5 / m.step)
	score = slices.Clone(score)
	for range most {
		k := slices.Index(score, slices.Max(score))
		if score[k] < seen {
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
	var best shape
	least := math.Inf(1)
	for _, s := range shapes() {
		if f := m.fitEvents(s, slices.Clone(events)); f.cost < least {
			least, best = f.cost, s
		}
	}
	return best
}

// sharpen moves each event to where the fit is best, to a quarter of a cell.
func (m *model) sharpen(s shape, events []event) {
	for range 2 {
		for i := range events {
			m.shift(s, events, i)
		}
	}
	m.fitEvents(s, events)
}

func (m *model) shift(s shape, events []event, i int) {
	f := m.fitEvents(s, events)
	alone := slices.Clone(f.residual)
	for k, v := range m.column(s, events[i].at) {
		alone[k] += f.value[i] * v
	}
	white := m.whiten(alone)
	best, at := -1.0, events[i].at
	quarter := m.step / 4
	for d := -0.5; d <= 0.5; d += quarter {
		c := m.whiten(m.column(s, events[i].at+d))
		var sum, norm float64
		for k, v := range white {
			if !math.IsNaN(v) && !math.IsNaN(c[k]) {
				sum, norm = sum+v*c[k], norm+c[k]*c[k]
			}
		}
		if gain := sum * sum / math.Max(norm, 1e-12); gain > best {
			best, at = gain, events[i].at+d
		}
	}
	events[i].at = at
}
