package belief_test

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// likelihood walks every joint state of the faults.
func (b *plain) likelihood(e *belief.Evidence, faults []plainFault) float64 {
	if e.Renewed != nil {
		return 1
	}
	before := seating(b.car, e)
	hit, alarm := b.cat.Setting("flag-hit"), b.cat.Setting("flag-false")
	sum, norm := 0.0, 0.0
	n := int(math.Pow(3, float64(len(faults))))
	for code := range n {
		d := make([]int, len(faults))
		p, shows := 1.0, false
		for i, rest := 0, code; i < len(faults); i, rest = i+1, rest/3 {
			d[i] = rest % 3
			touched := faults[i].touches(before)
			all := touched
			if e.Swap != nil {
				all = append(slices.Clone(touched), faults[i].touches(b.afterSwap(e))...)
				slices.Sort(all)
				all = slices.Compact(all)
			}
			p *= b.states(&faults[i], e.Regime, all).States[d[i]]
			shows = shows || d[i] != fault.Works && len(touched) > 0
		}
		flag := 1.0
		switch {
		case e.Miss == belief.Present && shows:
			flag = hit
		case e.Miss == belief.Present:
			flag = alarm
		case e.Miss == belief.Absent && shows:
			flag = 1 - hit
		case e.Miss == belief.Absent:
			flag = 1 - alarm
		}
		norm += p * flag
		sum += p * flag * b.seen(e, faults, d)
	}
	return sum / norm
}

func (b *plain) afterSwap(e *belief.Evidence) fault.Seating {
	s := seating(b.car, e)
	for _, kind := range append([]fault.PartKind{e.Swap.Kind}, e.Swap.Along...) {
		var err error
		if s, err = s.Swapped(kind, e.Swap.A, e.Swap.B); err != nil {
			panic(fmt.Sprint("test: ", err))
		}
	}
	return s
}

func (b *plain) seen(e *belief.Evidence, faults []plainFault, d []int) float64 {
	switch {
	case e.Reading != nil:
		return b.reading(e, faults, d)
	case e.Swap != nil:
		eps := b.cat.Setting("swap-slip")
		return (1-eps)*b.swap(e, faults, d) + eps/4
	case e.Watched != nil:
		return b.watched(e, faults, d)
	}
	pattern := finding.AllWork(b.car.Layout.N())
	worst := make([]int, b.car.Layout.N())
	for i := range faults {
		for _, c := range faults[i].touches(seating(b.car, e)) {
			k := b.car.Layout.Position(c)
			worst[k] = max(worst[k], d[i])
			pattern = pattern.With(k, []finding.State{finding.Works, finding.Weak, finding.Dead}[worst[k]])
		}
	}
	return math.Exp(e.Finding.Of(pattern))
}

// watched: what shows at once has come, and what rests may come in the time.
func (b *plain) watched(e *belief.Evidence, faults []plainFault, d []int) float64 {
	none := 1.0 // chance that nothing came
	for i := range faults {
		f := &faults[i]
		touched := f.touches(seating(b.car, e))
		switch {
		case f.cause.Code == fault.NotMisfire, f.sev == fault.SevQuiet && len(touched) > 0:
			none = 0
		case len(touched) == 0:
		case d[i] != fault.Works:
			none = 0
		default:
			if every := b.states(f, e.Regime, touched).Between; every > 0 {
				none *= math.Exp(-e.Watched.Seconds / every)
			}
		}
	}
	noted := (1-none)*(1-b.cat.Setting("watch-missed")) + none*b.cat.Setting("watch-false")
	if e.Watched.Came {
		return noted
	}
	return 1 - noted
}

func (b *plain) reading(e *belief.Evidence, faults []plainFault, d []int) float64 {
	k, err := b.cat.Check(e.Reading.Check)
	if err != nil {
		panic(err)
	}
	out := 1.0
	for _, unit := range b.units(k, e.Reading.Cylinders) {
		out *= b.unit(k, e, unit, faults, d)
	}
	return out
}

func (b *plain) units(k *fault.Check, cylinders []engine.Cylinder) [][]engine.Cylinder {
	l := b.car.Layout
	if len(cylinders) == 0 {
		return [][]engine.Cylinder{l.Cylinders()}
	}
	switch k.Scope {
	case fault.WholeEngine:
		return [][]engine.Cylinder{l.Cylinders()}
	case fault.PerBank:
		var out [][]engine.Cylinder
		for _, bank := range l.Banks() {
			if overlap(bank, cylinders) {
				out = append(out, bank)
			}
		}
		return out
	}
	var out [][]engine.Cylinder
	for _, c := range cylinders {
		out = append(out, []engine.Cylinder{c})
	}
	return out
}

// unit draws an outcome from each speaker and keeps the loudest.
func (b *plain) unit(k *fault.Check, e *belief.Evidence, unit []engine.Cylinder, faults []plainFault, d []int) float64 {
	o, err := k.Outcome(e.Reading.Outcome)
	if err != nil {
		panic(err)
	}
	var speakers [][]float64
	worst, dark := fault.Works, false
	for i := range faults {
		f := &faults[i]
		touched := f.touches(seating(b.car, e))
		if !overlap(touched, unit) && !(f.cause.Lives == fault.Nowhere && k.Scope == fault.WholeEngine) {
			continue
		}
		spark := slices.Contains([]fault.Lives{fault.InCoil, fault.InPlug, fault.InBoot, fault.AtCoilSeat, fault.AtFeed}, f.cause.Lives)
		dark = dark || spark && d[i] == fault.Dead
		when := fault.Showing
		if d[i] == fault.Works {
			when = fault.Resting
		}
		stateful := b.cat.OfState(k.Code, fault.Dead) != nil
		row := b.cat.OfCause(k.Code, f.cause, f.sev, when, len(touched) > 1)
		switch {
		case row != nil && f.cause.Unlisted() && !stateful:
			speakers = append(speakers, b.blurred(*row))
		case row != nil:
			speakers = append(speakers, *row)
		case stateful:
			worst = max(worst, d[i])
		case f.cause.Unlisted():
			speakers = append(speakers, b.blurred(b.cat.Sound(k.Code)))
		}
	}
	if worst > fault.Works {
		speakers = append(speakers, b.cat.OfState(k.Code, worst))
	}
	if len(speakers) == 0 {
		speakers = append(speakers, b.cat.Sound(k.Code))
	}
	p := loudest(speakers, o)
	if shut := b.cat.OfShutOff(k.Code); shut != nil && dark {
		q := b.cat.Setting("shutoff")
		p = (1-q)*p + q*shut[o]
	}
	return p
}

func (b *plain) blurred(p []float64) []float64 {
	flat := b.cat.Setting("unlisted-flat")
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = (1-flat)*v + flat/float64(len(p))
	}
	return out
}

// loudest is the chance that the loudest of independent speakers says o.
func loudest(speakers [][]float64, o int) float64 {
	var walk func(i, top int, p float64) float64
	walk = func(i, top int, p float64) float64 {
		if i == len(speakers) {
			if top == o {
				return p
			}
			return 0
		}
		sum := 0.0
		for said, q := range speakers[i] {
			sum += walk(i+1, max(top, said), p*q)
		}
		return sum
	}
	return walk(0, 0, 1)
}

// swap walks every joint state after the swap, with and without breakage.
func (b *plain) swap(e *belief.Evidence, faults []plainFault, d []int) float64 {
	before, after := seating(b.car, e), b.afterSwap(e)
	w := e.Swap
	at0 := map[string]bool{}
	for i := range faults {
		if d[i] != fault.Works {
			mark(at0, w, faults[i].touches(before))
		}
	}
	broken := b.cat.Setting("swap-new")
	sum := 0.0
	for code := range 1 << (len(faults) + 1) {
		at1, p := map[string]bool{}, 1-broken
		if code>>len(faults)&1 == 1 {
			p = broken
			at1["B"] = true
		}
		for i := range faults {
			q := b.again(e, &faults[i], d[i] != fault.Works, before, after)
			if code>>i&1 == 0 {
				p *= 1 - q
				continue
			}
			p *= q
			mark(at1, w, faults[i].touches(after))
		}
		sum += p * b.reported(w, at0, at1)
	}
	return sum
}

// reported looks at A and at B, each with its errors.
func (b *plain) reported(w *belief.Swap, at0, at1 map[string]bool) float64 {
	sum := 0.0
	for code := range 4 {
		seen, p := maps.Clone(at1), 1.0
		for i, end := range []string{"A", "B"} {
			sees := code>>i&1 == 1
			chance := b.cat.Setting("swap-false")
			if at1[end] {
				chance = 1 - b.cat.Setting("swap-missed")/(1+w.After/60)
			}
			if !sees {
				chance = 1 - chance
			}
			p *= chance
			delete(seen, end)
			if sees {
				seen[end] = true
			}
		}
		sum += p * agrees(w, at0, seen)
	}
	return sum
}

func mark(at map[string]bool, w *belief.Swap, touched []engine.Cylinder) {
	for _, c := range touched {
		switch c {
		case w.A:
			at["A"] = true
		case w.B:
			at["B"] = true
		default:
			at["else"] = true
		}
	}
}

func (b *plain) again(e *belief.Evidence, f *plainFault, showed bool, before, after fault.Seating) float64 {
	here := append(slices.Clone(f.touches(before)), f.touches(after)...)
	slices.Sort(here)
	here = slices.Compact(here)
	if len(here) == 0 {
		return 0
	}
	x := b.states(f, e.Regime, here)
	rest := x.States[fault.Works]
	if showed {
		rest *= 1 - b.cat.Setting("swap-persist")
	}
	if x.Between > 0 {
		rest *= math.Exp(-e.Swap.After / x.Between)
	}
	q := 1 - rest
	if overlap(here, []engine.Cylinder{e.Swap.A, e.Swap.B}) {
		q *= 1 - f.cause.Contact
	}
	return q
}

func agrees(w *belief.Swap, at0, at1 map[string]bool) float64 {
	same := at0["A"] == at1["A"] && at0["B"] == at1["B"] && at0["else"] == at1["else"]
	var truth belief.Follow
	switch {
	case len(at0) == 0 && len(at1) == 0:
		if w.Outcome == belief.Stays || w.Outcome == belief.Vanishes {
			return 0.5
		}
		return 0
	case len(at1) == 0:
		truth = belief.Vanishes
	case same || at1["A"] && !at1["B"]:
		truth = belief.Stays
	case at1["A"]:
		truth = belief.AtBoth
	case at1["B"]:
		truth = belief.Follows
	case !at0["else"]:
		truth = belief.AtBoth
	default:
		truth = belief.Vanishes
	}
	if truth == w.Outcome {
		return 1
	}
	return 0
}

// suspects sums by cause and site, named as the fast one names them.
func (b *plain) suspects() map[string]float64 {
	out := map[string]float64{}
	for _, h := range b.hs {
		for _, f := range h.faults {
			out[plainKey(f.cause.Code, f.part, f.only, f.place)] += h.p
		}
	}
	return out
}

func plainKey(cause string, part fault.PartID, only engine.Cylinder, place []engine.Cylinder) string {
	if part != "" {
		return fmt.Sprint(cause, " ", part, " ", only)
	}
	sorted := slices.Sorted(slices.Values(place))
	return fmt.Sprint(cause, sorted)
}
