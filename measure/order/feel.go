package order

import (
	"fmt"
	"math"

	"halforder/finding"
	"halforder/signal"
)

const (
	feelTop      = 400.0 // Hz, highest rate of the search for the speed
	feelLeast    = 20.0
	feelShortest = 3.0 // s

	leapMost = 60.0 // s without samples, and so many times the length of what there is: more is no recording
	gapMost  = 20.0
)

// FeelName is this analysis' name in findings of Feel.
const FeelName = "order/2 motion"

// Feel judges the motion of a sensor lying on the engine. The samples may come
// unevenly, twice, or with gaps: their times count, not their number, and the
// orders are fitted to them by least squares. The sensor may lie as it likes,
// and each order may shake it in a direction of its own. Orders near half the
// sample rate and above are out of reach, and a note says which.
//
// Cuts of the Config name the cylinders as they do for sound, their times being
// seconds from the first sample. Errors: *TooShortError, *StillError,
// *NoEngineError, or what makes no sense of times and values.
func Feel(shakes []Shake, config Config) (finding.Finding, error) {
	if err := config.Check(); err != nil {
		return finding.Finding{}, err
	}
	m, err := newMotion(shakes)
	if err != nil {
		return finding.Finding{}, err
	}
	if err := m.check(); err != nil {
		return finding.Finding{}, err
	}
	best, rival := m.likeliest(courseOf(m, config), config)
	if m.repeatsSlower(best) {
		return finding.Finding{}, feltError(&NoEngineError{0, feltCoherence})
	}
	h := m.heard(best, config)
	var other *heard
	if rival != nil {
		other = m.heard(*rival, config)
		h, other = likelier(h, other)
	}
	f, err := h.feltReport()
	if err != nil {
		return f, feltError(err)
	}
	if other != nil {
		if g, err := other.feltReport(); err == nil {
			f = unsure(f, g)
		}
	}
	f.Notes = append(f.Notes, m.notes()...)
	return f, nil
}

// unsure takes back a verdict that another speed, nearly as likely, contradicts.
func unsure(f, other finding.Finding) finding.Finding {
	if other.Verdict == f.Verdict || other.Verdict == finding.CannotTell || f.Verdict == finding.CannotTell {
		return f
	}
	a, _ := f.Quantity(SpeedQuantity)
	b, _ := other.Quantity(SpeedQuantity)
	f.Verdict = finding.CannotTell
	f.Sentence = fmt.Sprintf("Cannot tell: the engine turns at %.0f or at %.0f rpm, and what is felt means a misfire at one of them only; say which, with --speed.", a.Value, b.Value)
	saysNothing(&f)
	for i, s := range f.Series {
		if s.Note == whoShakes(true) {
			f.Series[i].Note, f.Series[i].Marks = whoShakes(false), nil
		}
	}
	return f
}

// likelier chooses between two speeds by whether the cycles are alike there. The
// second is nil when it can be left out.
func likelier(h, other *heard) (*heard, *heard) {
	switch {
	case h.alike >= alikeLeast && other.alike < alikeNone:
		return h, nil
	case other.alike >= alikeLeast && h.alike < alikeNone:
		return other, nil
	}
	return h, other
}

// heard takes the motion apart into cycles.
func (m *motion) heard(c course, config Config) *heard {
	harmonics := harmonicsFor(config.Layout)
	h := newHeard(config.Layout, make([]signal.Band, len(m.x)), harmonics, m.rate)
	h.motion, h.cuts, h.alike = true, config.Cuts, math.NaN()
	h.level.samples = int64(m.seconds() * m.rate)
	top := min(reachOf(m.rate, c.hz()), feelFirings*config.Layout.N()+feelBeyond, harmonics)
	if len(c.speeds) == 0 || top < 1 {
		return &h
	}
	w := fit{config.Layout.N(), 1, top, lengthOf(m.rate, c.hz(), top), harmonics, alignRounds}
	if len(h.cuts) > 0 && top >= w.firings && config.Layout.Even() {
		w.every = w.firings
	}
	p := c.pace()
	if w.every > 1 {
		for _, cut := range h.cuts {
			var held bool
			q := m.beaten(p, config.Layout)
			p, held = m.through(p, w.firings, cut.From)
			held = held || q.cycles() > 0 && math.Abs(q.apart(p, cut.From)) < beatAgrees/float64(w.firings)
			h.held = append(h.held, held)
		}
	}
	blocks, p := m.aligned(p, w)
	for _, c := range blocks {
		h.add(c)
	}
	h.alike, h.counted = m.likeness(p.moved(blocks), config)
	return &h
}

// check tells what cannot be an engine.
func (m *motion) check() error {
	switch {
	case m.rms == 0 && m.dropped > 0:
		return &StillError{}
	case len(m.t) < 2 || m.seconds() < feelShortest:
		return feltError(&TooShortError{m.seconds(), feelShortest})
	case m.seconds() > leapMost+gapMost*float64(len(m.t))/m.rate:
		return fmt.Errorf("%d samples are spread over %.0f s: a time stamp is wrong, or it is more than one recording; give one at a time", len(m.t), m.seconds())
	case m.rate < feelLeast:
		return fmt.Errorf("the sensor gives %.0f samples a second, too few to feel an engine: %.0f or more are needed", m.rate, feelLeast)
	}
	return nil
}

func (m *motion) notes() []string {
	var out []string
	if m.gaps > 0 {
		out = append(out, fmt.Sprintf("the recording has %d gaps; what lies between them is judged", m.gaps))
	}
	if m.dropped > len(m.t)/20 {
		out = append(out, fmt.Sprintf("%d of %d samples came twice and are left out", m.dropped, m.dropped+len(m.t)))
	}
	return out
}
