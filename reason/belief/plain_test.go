package belief_test

// The posterior once more, written plainly from the definitions: every
// hypothesis, every joint state, no classes, no logs, no tables. It judges the
// fast one.

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

type plainFault struct {
	cause *fault.Cause
	sev   fault.Severity
	kind  fault.PartKind
	part  fault.PartID
	place []engine.Cylinder // where it sits; of a part: on arrival
	p     float64
	fresh bool
}

type plainHypothesis struct {
	faults []plainFault
	p      float64
}

type plain struct {
	cat *fault.Catalogue
	car belief.Car
	hs  []plainHypothesis
}

func newPlain(cat *fault.Catalogue, car belief.Car, ev []belief.Evidence) *plain {
	if car.Seating == nil {
		car.Seating = fault.FirstSeating(car.Layout, car.Ignition, car.Injection)
	}
	if car.MaxFaults == 0 {
		car.MaxFaults = 2
	}
	b := &plain{cat: cat, car: car}
	b.enumerate(b.singles(ev))
	for i := range b.hs {
		for k := range ev {
			b.hs[i].p *= math.Pow(b.likelihood(&ev[k], b.hs[i].faults), repeats(cat, car, ev, k))
		}
	}
	total := 0.0
	for _, h := range b.hs {
		total += h.p
	}
	for i := range b.hs {
		b.hs[i].p /= total
	}
	return b
}

// repeats weighs reading k among its like: n of a kind count as 1 + w(n−1).
func repeats(cat *fault.Catalogue, car belief.Car, ev []belief.Evidence, k int) float64 {
	if ev[k].Reading == nil {
		return 1
	}
	n := 0
	for i := range ev {
		if ev[i].Reading == nil {
			continue
		}
		a, b := ev[i].Reading, ev[k].Reading
		same := a.Check == b.Check && slices.Equal(a.Cylinders, b.Cylinders) && ev[i].Regime == ev[k].Regime && ev[i].Miss == ev[k].Miss
		if same && sameParts(seating(car, &ev[i]), seating(car, &ev[k]), a.Cylinders, car.Layout) {
			n++
		}
	}
	return (1 + cat.Setting("repeat-weight")*float64(n-1)) / float64(n)
}

func sameParts(a, b fault.Seating, at []engine.Cylinder, l engine.Layout) bool {
	if len(at) == 0 {
		at = l.Cylinders()
	}
	for _, kind := range fault.PartKinds() {
		here := map[fault.PartID]bool{}
		there := map[fault.PartID]bool{}
		for _, c := range at {
			here[a.At(kind, c)], there[b.At(kind, c)] = true, true
		}
		if !maps.Equal(here, there) {
			return false
		}
	}
	return true
}

func seating(car belief.Car, e *belief.Evidence) fault.Seating {
	if e.Seating == nil {
		return car.Seating
	}
	return e.Seating
}

// singles lists the faults with their priors.
func (b *plain) singles(ev []belief.Evidence) []plainFault {
	info := b.cat.Complaint(b.car.Complaint)
	var listed, out []plainFault
	listedMass := 0.0
	for _, x := range b.cat.Causes() {
		if x.Code == fault.NotMisfire || !x.Fits(b.car.Ignition, b.car.Injection) {
			continue
		}
		w := max(b.cat.Prior(b.car.Complaint, x.Code), 100*b.cat.Setting("severity-floor"))
		sites := b.sites(x, ev)
		old := 0
		for _, s := range sites {
			if !s.fresh {
				old++
			}
		}
		if old == 0 {
			continue
		}
		fit := map[string]float64{}
		norm := 0.0
		for _, s := range x.Severities {
			v := 1e-3
			for _, m := range info.Severities {
				if m.Name == s.Name {
					v = max(v, m.P)
				}
			}
			fit[s.Name] = s.P * v
			norm += s.P * v
		}
		for _, s := range sites {
			for _, sev := range x.Severities {
				f := s
				f.cause, f.sev = x, b.softer(x, fault.Severity(sev.Name))
				f.p = fit[sev.Name] / norm / float64(old)
				if x.Unlisted() {
					f.p *= info.NotListed / 2
					out = append(out, f)
				} else {
					f.p *= w
					listed = append(listed, f)
				}
			}
		}
		if !x.Unlisted() {
			listedMass += w
		}
	}
	return append(out, b.scale(listed, listedMass, 1-info.NotMisfire-info.NotListed-info.Pairs)...)
}

func (b *plain) scale(listed []plainFault, mass, share float64) []plainFault {
	fresh := map[fault.PartKind]float64{}
	ids := map[fault.PartID]bool{}
	parts := map[fault.PartKind]float64{}
	for _, f := range listed {
		if f.fresh {
			fresh[f.kind] += f.p
			if !ids[f.part] {
				ids[f.part] = true
				parts[f.kind]++
			}
		}
	}
	for i := range listed {
		f := &listed[i]
		if f.fresh {
			f.p *= b.cat.Setting("new-part-bad") * parts[f.kind] / fresh[f.kind]
		} else {
			f.p *= share / mass
		}
	}
	return listed
}

func (b *plain) softer(x *fault.Cause, s fault.Severity) fault.Severity {
	ignition := x.Lives == fault.InCoil || x.Lives == fault.InPlug || x.Lives == fault.InBoot || x.Lives == fault.AtCoilSeat
	if s == fault.SevDead && (b.car.Ignition == fault.TwinPlug && ignition || b.car.Injection == fault.Both && x.Lives == fault.InInjector) {
		return fault.SevWeak
	}
	return s
}

func (b *plain) sites(x *fault.Cause, ev []belief.Evidence) []plainFault {
	kinds := map[fault.Lives][]fault.PartKind{
		fault.InCoil: {fault.Coil, fault.SecondCoil}, fault.InPlug: {fault.Plug, fault.SecondPlug},
		fault.InBoot: {fault.Boot, fault.Lead}, fault.InInjector: {fault.Injector, fault.SecondInjector},
	}
	var out []plainFault
	for _, kind := range kinds[x.Lives] {
		for _, id := range b.car.Seating[kind] {
			if !slices.ContainsFunc(out, func(f plainFault) bool { return f.part == id }) {
				out = append(out, plainFault{kind: kind, part: id, place: b.car.Seating.Where(kind, id)})
			}
		}
		for _, e := range ev {
			if e.Renewed != nil && e.Renewed.Kind == kind {
				out = append(out, plainFault{kind: kind, part: e.Renewed.Part, fresh: true})
			}
		}
	}
	if x.Lives.Part() {
		return out
	}
	for _, set := range b.places(x.Lives) {
		out = append(out, plainFault{place: set})
	}
	return out
}

func (b *plain) places(lives fault.Lives) [][]engine.Cylinder {
	l := b.car.Layout
	var out [][]engine.Cylinder
	switch lives {
	case fault.AtCylinder:
		for _, c := range l.Cylinders() {
			out = append(out, []engine.Cylinder{c})
		}
	case fault.AtCoilSeat:
		for _, c := range l.Cylinders() {
			if set := b.car.Seating.Where(fault.Coil, b.car.Seating.At(fault.Coil, c)); set[0] == c {
				out = append(out, set)
			}
		}
	case fault.AtNeighbours:
		for _, c := range l.Cylinders() {
			for _, d := range l.BlockNeighbours(c) {
				if c < d {
					out = append(out, []engine.Cylinder{c, d})
				}
			}
		}
	case fault.AtConsecutive:
		for k := range l.N() {
			if l.N() > 2 || l.N() == 2 && k == 0 {
				out = append(out, []engine.Cylinder{l.At(k), l.At(k + 1)})
			}
		}
	case fault.AtFeed:
		switch {
		case len(l.CoilFeeds()) > 0:
			out = l.CoilFeeds()
		case len(l.Banks()) > 1:
			out = l.Banks()
		default:
			out = append(out, l.Cylinders())
		}
	case fault.AtDriver:
		out = l.DriverPairs()
	case fault.AtCutSet:
		if len(l.CutSet()) > 0 {
			out = append(out, l.CutSet())
		}
	case fault.AtBank:
		out = l.Banks()
	case fault.AtEngine:
		out = append(out, l.Cylinders())
	}
	return out
}

func (b *plain) enumerate(faults []plainFault) {
	info := b.cat.Complaint(b.car.Complaint)
	cause, _ := b.cat.Cause(fault.NotMisfire)
	b.hs = append(b.hs, plainHypothesis{[]plainFault{{cause: cause, sev: fault.SevQuiet}}, info.NotMisfire})
	for _, f := range faults {
		p := f.p
		if f.fresh {
			p = 0
		}
		b.hs = append(b.hs, plainHypothesis{[]plainFault{f}, p})
	}
	b.pairs(faults, info)
	if b.car.MaxFaults == 3 {
		b.triples(faults, info)
	}
}

func (b *plain) pairs(faults []plainFault, info fault.ComplaintInfo) {
	sum, from := 0.0, len(b.hs)
	for i := range faults {
		for j := i + 1; j < len(faults); j++ {
			if x, y := faults[i], faults[j]; compatible(x, y) {
				p := x.p * y.p * b.lift(x, y)
				b.hs = append(b.hs, plainHypothesis{[]plainFault{x, y}, p})
				if !x.fresh && !y.fresh {
					sum += p
				}
			}
		}
	}
	for i := from; i < len(b.hs); i++ {
		if h := &b.hs[i]; !h.faults[0].fresh && !h.faults[1].fresh {
			h.p *= info.Pairs / sum
		}
	}
}

func (b *plain) triples(faults []plainFault, info fault.ComplaintInfo) {
	sum, from := 0.0, len(b.hs)
	for i := range faults {
		for j := i + 1; j < len(faults); j++ {
			for k := j + 1; k < len(faults); k++ {
				x, y, z := faults[i], faults[j], faults[k]
				if x.fresh || y.fresh || z.fresh || !compatible(x, y) || !compatible(y, z) || !compatible(x, z) {
					continue
				}
				p := x.p * y.p * z.p * b.lift(x, y) * b.lift(y, z) * b.lift(x, z)
				b.hs = append(b.hs, plainHypothesis{[]plainFault{x, y, z}, p})
				sum += p
			}
		}
	}
	for i := from; i < len(b.hs); i++ {
		b.hs[i].p *= info.Pairs * info.Pairs / sum
	}
}

func compatible(x, y plainFault) bool {
	sameSite := x.kind == y.kind && x.part == y.part && slices.Equal(x.place, y.place)
	return !(sameSite && x.cause == y.cause) && !x.cause.Unlisted() && !y.cause.Unlisted() && !(x.fresh && y.fresh)
}

func (b *plain) lift(x, y plainFault) float64 {
	same := overlap(x.place, y.place)
	for _, l := range b.cat.Links() {
		match := l.A == x.cause.Code && l.B == y.cause.Code || l.B == x.cause.Code && l.A == y.cause.Code
		if match && l.Same == same {
			return l.Lift
		}
	}
	return 1
}

func overlap(a, b []engine.Cylinder) bool {
	return slices.ContainsFunc(a, func(c engine.Cylinder) bool { return slices.Contains(b, c) })
}

func (f *plainFault) touches(s fault.Seating) []engine.Cylinder {
	if f.part == "" {
		return f.place
	}
	return s.Where(f.kind, f.part)
}

func (b *plain) states(f *plainFault, r fault.Regime, touched []engine.Cylinder) fault.Behaviour {
	if r == "" {
		r = fault.Any
	}
	x := b.cat.Behaviour(f.sev, r)
	if len(touched) == b.car.Layout.N() && len(touched) > 1 {
		x.States = fault.States{x.States[0], x.States[1] + x.States[2], 0}
	}
	return x
}

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
	switch k.Scope {
	case fault.WholeEngine:
		return [][]engine.Cylinder{l.Cylinders()}
	case fault.PerBank:
		if len(l.Banks()) == 1 {
			return l.Banks()
		}
		return [][]engine.Cylinder{l.Banks()[l.Bank(cylinders[0])]}
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
		sum += p * agrees(w, at0, at1)
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
			out[plainKey(f.cause.Code, f.part, f.place)] += h.p
		}
	}
	return out
}

func plainKey(cause string, part fault.PartID, place []engine.Cylinder) string {
	if part != "" {
		return cause + " " + string(part)
	}
	sorted := slices.Sorted(slices.Values(place))
	return fmt.Sprint(cause, sorted)
}
