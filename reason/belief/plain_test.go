package belief_test

// The posterior once more, written plainly from the definitions: every
// hypothesis, every joint state, no classes, no logs, no tables. It judges the
// fast one.

import (
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
	only  engine.Cylinder // inside a rail: the cylinder served
	share float64         // of the prior of its cause
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

// repeats weighs reading k among its like: n of a kind count as 1 + w(n−1). Of
// findings from one source the one with the widest span counts whole, the others w.
func repeats(cat *fault.Catalogue, car belief.Car, ev []belief.Evidence, k int) float64 {
	if ev[k].Finding != nil && ev[k].Source != "" {
		return repeatsOfFinding(cat, car, ev, k)
	}
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

func repeatsOfFinding(cat *fault.Catalogue, car belief.Car, ev []belief.Evidence, k int) float64 {
	for i, e := range ev {
		same := e.Finding != nil && e.Source == ev[k].Source && e.Regime == ev[k].Regime && e.Miss == ev[k].Miss
		if i == k || !same || !sameParts(seating(car, &ev[i]), seating(car, &ev[k]), nil, car.Layout) {
			continue
		}
		if a, b := span(e.Finding), span(ev[k].Finding); a > b || a == b && i < k {
			return cat.Setting("repeat-weight")
		}
	}
	return 1
}

func span(l *finding.Likelihood) float64 {
	all := append(slices.Collect(maps.Values(l.Log)), l.Else)
	return slices.Max(all) - slices.Min(all)
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
		old := 0.0
		for _, s := range sites {
			if !s.fresh {
				old += s.share
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
			if s.fresh && x.Wears {
				continue
			}
			for _, sev := range x.Severities {
				f := s
				f.cause, f.sev = x, b.softer(x, fault.Severity(sev.Name))
				f.p = fit[sev.Name] / norm * s.share / old
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
				out = append(out, plainFault{kind: kind, part: id, place: b.car.Seating.Where(kind, id), share: 1})
			}
		}
		for _, e := range ev {
			if e.Renewed != nil && e.Renewed.Kind == kind {
				out = append(out, plainFault{kind: kind, part: e.Renewed.Part, fresh: true, share: 1, only: e.Renewed.Cylinder})
			}
		}
	}
	switch {
	case x.Lives == fault.InCoil && b.car.Ignition == fault.Cassette:
		return b.rails(out)
	case x.Lives.Part():
		for i := range out {
			out[i].only = 0
		}
		return out
	}
	for _, set := range b.places(x.Lives) {
		out = append(out, plainFault{place: set, share: 1})
	}
	return out
}

// rails splits each rail of coils into the coils inside it and the whole.
func (b *plain) rails(rails []plainFault) []plainFault {
	var out []plainFault
	for _, whole := range rails {
		at := whole.place
		if whole.fresh {
			at = b.car.Layout.Banks()[b.car.Layout.Bank(whole.only)]
		}
		whole.only = 0
		for _, c := range at {
			one := whole
			one.only, one.share = c, 1-b.cat.Setting("rail-whole")
			if !whole.fresh {
				one.place = []engine.Cylinder{c}
			}
			out = append(out, one)
		}
		whole.share = float64(len(at)) * b.cat.Setting("rail-whole")
		out = append(out, whole)
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
		if b.car.Ignition == fault.Cassette {
			return b.places(fault.AtCylinder)
		}
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
	case fault.AtCompanions:
		for _, c := range l.Cylinders() {
			if d, ok := l.Companion(c); ok && c < d {
				out = append(out, []engine.Cylinder{c, d})
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
	sameSite := x.kind == y.kind && x.part == y.part && x.only == y.only && slices.Equal(x.place, y.place)
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
	at := s.Where(f.kind, f.part)
	if f.only != 0 {
		return slices.DeleteFunc(at, func(c engine.Cylinder) bool { return c != f.only })
	}
	return at
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
