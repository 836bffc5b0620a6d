package belief

import (
	"fmt"
	"math"

	"halforder/finding"
	"halforder/reason/fault"
)

// pattern is the joint state of all cylinders, two bits per firing position:
// 0 works, 1 weak, 2 dead.
type pattern uint32

// join is the worse of two patterns at each position.
func join(a, b pattern) pattern {
	c := a | b
	const low = 0x55555555
	return c &^ (c >> 1 & low)
}

// findingSight is what an analysis says of the cylinders.
type findingSight struct {
	m       *model
	l       *finding.Likelihood
	seating fault.Seating
	regime  fault.Regime
	miss    Presence
	flags   flags
	memo    map[pattern]float64 // likelihood over the best pattern's
	peak    float64             // its log
}

func newFindingSight(m *model, e *Evidence) (*findingSight, error) {
	if err := e.Finding.Check(m.car.Layout.N()); err != nil {
		return nil, err
	}
	s := &findingSight{m: m, l: e.Finding, seating: m.seatingOf(e), regime: e.regime(), miss: e.Miss, flags: m.flags(), memo: map[pattern]float64{}}
	s.peak = e.Finding.Else
	for _, v := range e.Finding.Log {
		s.peak = max(s.peak, v)
	}
	return s, nil
}

func (s *findingSight) effectOf(f *singleFault) effect {
	touched := s.m.touches(f, s.seating)
	if touched == 0 {
		return effect{states: fault.States{1, 0, 0}}
	}
	return effect{touched: touched, states: s.m.states(f, s.regime, touched).States}
}

func (s *findingSight) logLik(effects []effect) float64 {
	p := s.flags.given(s.miss, effects, func(d draws) float64 {
		var joint pattern
		for i := range effects {
			joint = join(joint, s.spread(effects[i].touched, d[i]))
		}
		return s.of(joint)
	})
	return s.peak + math.Log(p)
}

// spread puts a state at the firing positions of a set of cylinders.
func (s *findingSight) spread(touched mask, state int) pattern {
	var out pattern
	if state == fault.Works {
		return out
	}
	for _, c := range touched.cylinders() {
		out |= pattern(state) << (2 * s.m.car.Layout.Position(c))
	}
	return out
}

// of is the likelihood of a pattern relative to the best one.
func (s *findingSight) of(p pattern) float64 {
	v, ok := s.memo[p]
	if !ok {
		v = math.Exp(s.l.Of(s.letters(p)) - s.peak)
		s.memo[p] = v
	}
	return v
}

func (s *findingSight) letters(p pattern) finding.Pattern {
	out := finding.AllWork(s.m.car.Layout.N())
	for k := range s.m.car.Layout.N() {
		switch p >> (2 * k) & 3 {
		case fault.Weak:
			out = out.With(k, finding.Weak)
		case fault.Dead:
			out = out.With(k, finding.Dead)
		}
	}
	return out
}

// swapSight is the outcome of an exchange of parts.
type swapSight struct {
	m             *model
	swap          *Swap
	before, after fault.Seating
	ends          mask // the two cylinders
	regime        fault.Regime
	miss          Presence
	flags         flags
	slip, persist float64
	fresh         float64
	power         float64
}

func newSwapSight(m *model, e *Evidence) (*swapSight, error) {
	w := e.Swap
	for _, c := range []int{int(w.A), int(w.B)} {
		if c < 1 || c > m.car.Layout.N() {
			return nil, fmt.Errorf("swap: cylinder %d does not exist, this engine has 1 to %d", c, m.car.Layout.N())
		}
	}
	if w.Before < 0 || w.After < 0 || math.IsNaN(w.Before+w.After) || math.IsInf(w.Before+w.After, 0) {
		return nil, fmt.Errorf("swap: watched for %g s before and %g s after, both must be 0 (unknown) or more", w.Before, w.After)
	}
	before := m.seatingOf(e)
	after, err := swapped(before, w)
	if err != nil {
		return nil, err
	}
	set := m.cat.Setting
	return &swapSight{m: m, swap: w, before: before, after: after, ends: 1<<(w.A-1) | 1<<(w.B-1), regime: e.regime(), miss: e.Miss,
		flags: m.flags(), slip: set("swap-slip"), persist: set("swap-persist"), fresh: set("swap-new"), power: 1}, nil
}

// swapped is the seating after a swap and what went along with it.
func swapped(before fault.Seating, w *Swap) (fault.Seating, error) {
	after := before
	for _, kind := range append([]fault.PartKind{w.Kind}, w.Along...) {
		var err error
		if after, err = after.Swapped(kind, w.A, w.B); err != nil {
			return nil, err
		}
	}
	return after, nil
}

// effectOf keeps of the touched cylinders only A, B and "elsewhere".
func (s *swapSight) effectOf(f *singleFault) effect {
	before, after := s.m.touches(f, s.before), s.m.touches(f, s.after)
	if before|after == 0 {
		return effect{states: fault.States{1, 0, 0}}
	}
	b := s.m.states(f, s.regime, before|after)
	e := effect{touched: s.near(before), after: s.near(after), between: b.Between}
	e.states = fault.States{b.States[fault.Works], 1 - b.States[fault.Works], 0}
	if (before|after)&s.ends != 0 {
		e.contact = f.cause.Contact
	}
	return e
}

func (s *swapSight) near(touched mask) mask {
	out := touched & s.ends
	if touched&^s.ends != 0 {
		out |= elsewhere
	}
	return out
}

func (s *swapSight) logLik(effects []effect) float64 {
	p := s.flags.given(s.miss, effects, func(d draws) float64 {
		return s.afterwards(effects, d)
	})
	return s.power * math.Log((1-s.slip)*p+s.slip/float64(len(FollowValues())))
}

// afterwards is the chance of the outcome given which faults showed before:
// each shows again, or not, in the time watched, and a swap may break something
// at B.
func (s *swapSight) afterwards(effects []effect, d draws) float64 {
	var at0 mask
	for i := range effects {
		if d[i] != fault.Works {
			at0 |= effects[i].touched
		}
	}
	b := mask(1) << (s.swap.B - 1)
	var walk func(i int, at1 mask) float64
	walk = func(i int, at1 mask) float64 {
		if i == len(effects) {
			return (1-s.fresh)*s.agrees(at0, at1) + s.fresh*s.agrees(at0, at1|b)
		}
		again := s.again(&effects[i], d[i] != fault.Works)
		sum := (1 - again) * walk(i+1, at1)
		if again > 0 {
			sum += again * walk(i+1, at1|effects[i].after)
		}
		return sum
	}
	return walk(0, 0)
}

// again is the chance that a fault is seen in the window after the swap. One
// that showed just before tends to persist; moving things may quiet a contact.
func (s *swapSight) again(e *effect, showed bool) float64 {
	rest := e.states[fault.Works]
	if showed {
		rest *= 1 - s.persist
	}
	if e.between > 0 {
		rest *= math.Exp(-s.swap.After / e.between)
	}
	return (1 - rest) * (1 - e.contact)
}

// agrees is the chance that a person who saw the miss at0 and then at1 reports
// the outcome.
func (s *swapSight) agrees(at0, at1 mask) float64 {
	if at0 == 0 && at1 == 0 { // nothing was there to follow: both words are used
		if s.swap.Outcome == Stays || s.swap.Outcome == Vanishes {
			return 0.5
		}
		return 0
	}
	if s.outcome(at0, at1) == s.swap.Outcome {
		return 1
	}
	return 0
}

func (s *swapSight) outcome(at0, at1 mask) Follow {
	a, b := at1.has(s.swap.A), at1.has(s.swap.B)
	switch {
	case at1 == 0:
		return Vanishes
	case at0 == at1, a && !b:
		return Stays
	case a && b:
		return AtBoth
	case b:
		return Follows
	case at0&elsewhere == 0:
		return AtBoth // new elsewhere
	}
	return Vanishes // gone from here, and something else remains
}
