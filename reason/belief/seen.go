package belief

import (
	"errors"
	"fmt"
	"math"
	"math/bits"

	"halforder/engine"
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
	touched []mask
	regime  fault.Regime
	miss    Presence
	flags   flags
	known   map[pattern]float64 // likelihood over the best pattern's; of an anonymous one by least rotation
	other   float64             // of a pattern not among the known
	peak    float64             // log of the best
	groups  map[pattern]int32   // numbers the sets of cylinders touched
	pairs   []jointly           // by two groups
}

// jointly are the likelihoods of the nine joint states of two sets of cylinders.
type jointly struct {
	known bool
	p     [9]float64
}

func newFindingSight(m *model, e *Evidence) (*findingSight, error) {
	if err := e.Finding.Check(m.car.Layout.N()); err != nil {
		return nil, err
	}
	s := &findingSight{m: m, l: e.Finding, touched: m.reachOf(e), regime: e.regime(), miss: e.Miss, flags: m.flags(), groups: map[pattern]int32{}}
	s.peak = e.Finding.Else
	for _, v := range e.Finding.Log {
		s.peak = max(s.peak, v)
	}
	s.other = math.Exp(e.Finding.Else - s.peak)
	s.known = make(map[pattern]float64, len(e.Finding.Log))
	for letters := range e.Finding.Log {
		if !e.Finding.Anonymous || letters == letters.Canonical() {
			s.known[s.place(packed(letters))] = math.Exp(e.Finding.Of(letters) - s.peak)
		}
	}
	return s, nil
}

// packed is a pattern of letters.
func packed(letters finding.Pattern) pattern {
	var out pattern
	for k, letter := range []byte(letters) {
		switch finding.State(letter) {
		case finding.Weak:
			out |= fault.Weak << (2 * k)
		case finding.Dead:
			out |= fault.Dead << (2 * k)
		}
	}
	return out
}

// place is under what a pattern is known: itself, or its least rotation where
// the analysis cannot name a cylinder.
func (s *findingSight) place(p pattern) pattern {
	if !s.l.Anonymous {
		return p
	}
	width := 2 * s.m.car.Layout.N()
	best, round := p, uint64(p)<<width|uint64(p)
	for k := 2; k < width; k += 2 {
		best = min(best, pattern(round>>k&(1<<width-1)))
	}
	return best
}

func (s *findingSight) effectOf(i int) effect {
	if i == noFault || s.touched[i] == 0 {
		return effect{states: fault.States{1, 0, 0}}
	}
	weak := s.weak(s.touched[i])
	return effect{touched: s.touched[i], weak: weak, group: s.groupOf(weak), states: s.m.states(&s.m.faults[i], s.regime, s.touched[i]).States}
}

func (s *findingSight) logLik(effects []effect) float64 {
	if s.miss == Unknown && len(effects) == 2 {
		return s.peak + math.Log(s.ofPair(&effects[0], &effects[1]))
	}
	p := s.flags.given(s.miss, effects, func(d *draws) float64 {
		var joint pattern
		for i := range effects {
			joint = join(joint, effects[i].weak*pattern(d[i])) // two bits each: times 2 is dead
		}
		return s.of(joint)
	})
	return s.peak + math.Log(p)
}

// groupOf numbers the sets of cylinders as they are met; 0 is none.
func (s *findingSight) groupOf(weak pattern) int32 {
	g, ok := s.groups[weak]
	if !ok {
		g = int32(len(s.groups)) + 1
		s.groups[weak] = g
		s.pairs = nil
	}
	return g
}

// ofPair is the likelihood of two effects where nothing was noted of the miss.
// Faults of many severities touch the same cylinders, so the joint patterns are
// looked up once for all of them.
func (s *findingSight) ofPair(a, b *effect) float64 {
	n := len(s.groups) + 1
	if s.pairs == nil {
		s.pairs = make([]jointly, n*n)
	}
	joint := &s.pairs[int(a.group)*n+int(b.group)]
	if !joint.known {
		joint.known = true
		for i := range 3 {
			for j := range 3 {
				joint.p[3*i+j] = s.of(join(a.weak*pattern(i), b.weak*pattern(j)))
			}
		}
	}
	sum := 0.0
	for i, p := range a.states {
		sum += p * (b.states[0]*joint.p[3*i] + b.states[1]*joint.p[3*i+1] + b.states[2]*joint.p[3*i+2])
	}
	return sum
}

// weak is the pattern of a set of cylinders that are all weak.
func (s *findingSight) weak(touched mask) pattern {
	var out pattern
	for m := touched; m != 0; m &= m - 1 {
		c := engine.Cylinder(bits.TrailingZeros32(uint32(m)) + 1)
		out |= 1 << (2 * s.m.car.Layout.Position(c))
	}
	return out
}

// of is the likelihood of a pattern relative to the best one.
func (s *findingSight) of(p pattern) float64 {
	if v, ok := s.known[s.place(p)]; ok {
		return v
	}
	return s.other
}

// swapSight is the outcome of an exchange of parts.
type swapSight struct {
	m             *model
	swap          *Swap
	before, after []mask // by fault
	ends          mask   // the two cylinders
	regime        fault.Regime
	miss          Presence
	flags         flags
	slip, persist float64
	fresh         float64
	looks         looks
	power         float64
}

func newSwapSight(m *model, e *Evidence, touched []mask) (*swapSight, error) {
	w := e.Swap
	for _, c := range []int{int(w.A), int(w.B)} {
		if c < 1 || c > m.car.Layout.N() {
			return nil, fmt.Errorf("swap: cylinder %d does not exist, this engine has 1 to %d", c, m.car.Layout.N())
		}
	}
	if w.Kind == fault.Coil && m.car.Ignition == fault.Cassette {
		return nil, errors.New("swap: the coils of this car sit in one rail and cannot change places: swap boots or plugs, or try a rail known to be good")
	}
	if w.Before < 0 || w.After < 0 || math.IsNaN(w.Before+w.After) || math.IsInf(w.Before+w.After, 0) {
		return nil, fmt.Errorf("swap: watched for %g s before and %g s after, both must be 0 (unknown) or more", w.Before, w.After)
	}
	after, err := swapped(m.seatingOf(e), w)
	if err != nil {
		return nil, err
	}
	set := m.cat.Setting
	return &swapSight{m: m, swap: w, before: touched, after: m.reach(after, e.Mended), ends: 1<<(w.A-1) | 1<<(w.B-1), regime: e.regime(), miss: e.Miss,
		flags: m.flags(), slip: set("swap-slip"), persist: set("swap-persist"), fresh: set("swap-new"), power: 1, looks: looks{set("swap-missed") / (1 + w.After/halfMissed), set("swap-false")}}, nil
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
func (s *swapSight) effectOf(i int) effect {
	if i == noFault || s.before[i]|s.after[i] == 0 {
		return effect{states: fault.States{1, 0, 0}}
	}
	f, before, after := &s.m.faults[i], s.before[i], s.after[i]
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
	p := s.flags.given(s.miss, effects, func(d *draws) float64 {
		return s.afterwards(effects, d)
	})
	return s.power * math.Log((1-s.slip)*p+s.slip/float64(len(FollowValues())))
}

// afterwards is the chance of the outcome given which faults showed before:
// each shows again, or not, in the time watched, and a swap may break something
// at B.
func (s *swapSight) afterwards(effects []effect, d *draws) float64 {
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
			return (1-s.fresh)*s.noted(at0, at1) + s.fresh*s.noted(at0, at1|b)
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

// looks are the two looks of a swap, one at each cylinder: the miss can be
// overlooked, and seen where there is none. To take "stays" for "follows" both
// must err.
type looks struct{ missed, alarm float64 }

// halfMissed is how many seconds of watching halve what is overlooked.
const halfMissed = 60

// of is the chance of a look that sees, or not, where the miss is or is not.
func (l looks) of(sees, there bool) float64 {
	p := l.alarm
	if there {
		p = 1 - l.missed
	}
	if sees {
		return p
	}
	return 1 - p
}

// noted is the chance that the outcome is reported when the miss was at0 and is
// at1, over what the two looks may see.
func (s *swapSight) noted(at0, at1 mask) float64 {
	a, b := mask(1)<<(s.swap.A-1), mask(1)<<(s.swap.B-1)
	sum := 0.0
	for _, seen := range [4]mask{0, a, b, a | b} {
		if agrees := s.agrees(at0, at1&^(a|b)|seen); agrees > 0 {
			sum += agrees * s.looks.of(seen&a != 0, at1&a != 0) * s.looks.of(seen&b != 0, at1&b != 0)
		}
	}
	return sum
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
