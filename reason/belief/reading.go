package belief

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

// sighting is a piece of evidence made ready: it names the effect of each fault
// and the chance of what was seen under up to three effects.
type sighting interface {
	effectOf(fault int) effect // noFault: not a misfire
	logLik(effects []effect) float64
}

// noFault stands for "not a misfire".
const noFault = -1

// readingSight is a reading of a check.
type readingSight struct {
	m       *model
	check   *fault.Check
	outcome int
	units   []mask // each gave the outcome; one for a check of a bank or engine
	seen    mask   // their union
	touched []mask // by fault
	quiet   bool   // what was no misfire has been mended
	regime  fault.Regime
	miss    Presence
	flags   flags
	sound   []float64
	byState [3][]float64
	shut    []float64
	shutOff float64
	blur    float64
	power   float64 // below 1 for repeats
}

func newReadingSight(m *model, e *Evidence, touched []mask, power float64) (*readingSight, error) {
	r := e.Reading
	k, err := m.cat.Check(r.Check)
	if err != nil {
		return nil, err
	}
	if k.Swaps != "" {
		return nil, fmt.Errorf("check %q is a swap: enter it as one", k.Code)
	}
	o, err := k.Outcome(r.Outcome)
	if err != nil {
		return nil, err
	}
	s := &readingSight{m: m, check: k, outcome: o, touched: touched, quiet: m.none.mendedBy(e.Mended), regime: e.regime(), miss: e.Miss, power: power}
	s.fill()
	if s.units, err = unitsOf(k, r.Cylinders, m.car.Layout); err != nil {
		return nil, err
	}
	for _, u := range s.units {
		s.seen |= u
	}
	return s, nil
}

func (s *readingSight) fill() {
	cat := s.m.cat
	s.flags = s.m.flags()
	s.sound = cat.Sound(s.check.Code)
	s.byState[fault.Weak], s.byState[fault.Dead] = cat.OfState(s.check.Code, fault.Weak), cat.OfState(s.check.Code, fault.Dead)
	s.shut, s.shutOff = cat.OfShutOff(s.check.Code), cat.Setting("shutoff")
	s.blur = cat.Setting("unlisted-flat")
}

// unitsOf are the sets of cylinders that each gave the outcome.
func unitsOf(k *fault.Check, cylinders []engine.Cylinder, l engine.Layout) ([]mask, error) {
	for _, c := range cylinders {
		if err := l.Check(c); err != nil {
			return nil, fmt.Errorf("check %q: %w", k.Code, err)
		}
	}
	all := maskOf(l.Cylinders())
	switch {
	case k.Scope == fault.WholeEngine, k.Scope == fault.PerBank && len(l.Banks()) == 1:
		return []mask{all}, nil
	case len(cylinders) == 0 && k.Scope != fault.PerCylinder:
		return []mask{all}, nil // the loudest of all, somewhere
	case len(cylinders) == 0:
		return nil, fmt.Errorf("check %q looks at one %s at a time: say at which", k.Code, k.Scope)
	case k.Scope == fault.PerBank:
		return banksOf(cylinders, l), nil
	}
	var out []mask
	for _, c := range maskOf(cylinders).cylinders() {
		out = append(out, maskOf([]engine.Cylinder{c}))
	}
	return out, nil
}

// lookedAt are the cylinders that a reading speaks of, those of a bank together.
func (m *model) lookedAt(r *Reading) (out mask) {
	k, err := m.cat.Check(r.Check)
	if err != nil {
		return maskOf(r.Cylinders)
	}
	units, err := unitsOf(k, r.Cylinders, m.car.Layout)
	if err != nil {
		return maskOf(r.Cylinders)
	}
	for _, u := range units {
		out |= u
	}
	return out
}

// banksOf are the banks that the cylinders stand for, each once.
func banksOf(cylinders []engine.Cylinder, l engine.Layout) (out []mask) {
	for _, c := range cylinders {
		if bank := maskOf(l.Banks()[l.Bank(c)]); !slices.Contains(out, bank) {
			out = append(out, bank)
		}
	}
	return out
}

func (s *readingSight) effectOf(i int) effect {
	f, touched := &s.m.none, mask(0)
	if i != noFault {
		f, touched = &s.m.faults[i], s.touched[i]
	}
	e := effect{states: s.m.states(f, s.regime, touched).States, touched: touched & s.seen}
	e.nowhere = i == noFault && s.check.Scope == fault.WholeEngine && !s.quiet
	if e.touched == 0 && !e.nowhere {
		return s.unseen(touched, e)
	}
	for w := range e.rows {
		if p := s.m.cat.OfCause(s.check.Code, f.cause, f.severity, fault.When(w), touched.wide()); p != nil {
			e.rows[w] = row{p}
		}
	}
	e.blurred = f.cause.Unlisted() && s.byState[fault.Dead] == nil
	e.spark = s.shut != nil && ofSpark(f.cause.Lives)
	return e
}

// unseen is the effect of a fault elsewhere: it matters only where the miss was
// noted, and then only by how often it shows.
func (s *readingSight) unseen(touched mask, e effect) effect {
	if s.miss == Unknown || touched == 0 {
		return effect{states: fault.States{1, 0, 0}}
	}
	return effect{states: fault.States{e.states[fault.Works], 1 - e.states[fault.Works], 0}, touched: elsewhere}
}

// elsewhere marks a cylinder that the evidence does not look at.
const elsewhere mask = 1 << 31

func ofSpark(l fault.Lives) bool {
	return slices.Contains([]fault.Lives{fault.InCoil, fault.InPlug, fault.InBoot, fault.AtCoilSeat, fault.AtFeed}, l)
}

func (s *readingSight) logLik(effects []effect) float64 {
	p := s.flags.given(s.miss, effects, func(d *draws) float64 {
		out := 1.0
		for _, u := range s.units {
			out *= s.chance(u, effects, d)
		}
		return out
	})
	return s.power * math.Log(p)
}

// voice is what one of several says of a unit: the chances of the outcomes, a
// share of them spread evenly.
type voice struct {
	p    []float64
	blur float64
}

// heard are the voices at a unit, and whether a cylinder there lacks spark.
type heard struct {
	voices [4]voice
	n      int
	dark   bool
}

func (h *heard) add(p []float64, blur float64) {
	h.voices[h.n] = voice{p, blur}
	h.n++
}

// listen collects what is heard at one unit when the faults are in the given
// states.
func (s *readingSight) listen(unit mask, effects []effect, d *draws) (h heard) {
	state := fault.Works
	for i := range effects {
		e := &effects[i]
		if e.touched&unit == 0 && !e.nowhere {
			continue
		}
		h.dark = h.dark || e.spark && d[i] == fault.Dead
		r := e.rows[showing(d[i])]
		switch {
		case !r.none():
			h.add(*r.p, s.blurOf(e))
		case s.byState[fault.Dead] != nil:
			state = max(state, d[i])
		case e.blurred:
			h.add(s.sound, s.blur)
		}
	}
	if state > fault.Works {
		h.add(s.byState[state], 0)
	}
	if h.n == 0 {
		h.add(s.sound, 0)
	}
	h.dark = h.dark && s.shut != nil
	return h
}

// chance is that of the outcome at one unit. Voices at the same unit drown each
// other: the loudest outcome is what is seen.
func (s *readingSight) chance(unit mask, effects []effect, d *draws) float64 {
	h := s.listen(unit, effects, d)
	below, upTo := 1.0, 1.0
	for _, v := range h.voices[:h.n] {
		lo, hi := cumulated(v.p, s.outcome, v.blur)
		below, upTo = below*lo, upTo*hi
	}
	p := upTo - below
	if h.dark {
		p = (1-s.shutOff)*p + s.shutOff*s.shut[s.outcome]
	}
	return p
}

// spread is chance for all outcomes at once.
func (s *readingSight) spread(dst []float64, unit mask, effects []effect, d *draws) {
	h := s.listen(unit, effects, d)
	for o := range dst {
		dst[o] = 1
	}
	for _, v := range h.voices[:h.n] {
		sum, even := 0.0, v.blur/float64(len(dst))
		for o := range dst {
			sum += v.p[o]
			dst[o] *= (1-v.blur)*sum + even*float64(o+1)
		}
	}
	for o := len(dst) - 1; o > 0; o-- {
		dst[o] -= dst[o-1]
	}
	if !h.dark {
		return
	}
	for o := range dst {
		dst[o] = (1-s.shutOff)*dst[o] + s.shutOff*s.shut[o]
	}
}

func (s *readingSight) blurOf(e *effect) float64 {
	if e.blurred {
		return s.blur
	}
	return 0
}

func showing(state int) fault.When {
	if state == fault.Works {
		return fault.Resting
	}
	return fault.Showing
}

// cumulated is the chance of an outcome quieter than o, and of one no louder,
// with a share of the answers spread evenly.
func cumulated(p []float64, o int, blur float64) (below, upTo float64) {
	for i := range o {
		below += p[i]
	}
	upTo = below + p[o]
	n := float64(len(p))
	return (1-blur)*below + blur*float64(o)/n, (1-blur)*upTo + blur*float64(o+1)/n
}
