package belief

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

// model is a car with every fault it can have and the prior of each.
type model struct {
	cat      *fault.Catalogue
	car      Car
	first    fault.Seating
	fresh    map[fault.PartKind][]fault.PartID  // new parts, by kind
	freshAt  map[fault.PartID][]engine.Cylinder // where they came in
	sites    []Site
	faults   []singleFault
	none     singleFault // not a misfire
	lead     []int       // by fault: the first fault of the same cause and site
	all      mask
	pairMass float64 // prior of two faults at once

	predictions predictions
}

// singleFault is a cause at a site in one severity.
type singleFault struct {
	cause    *fault.Cause
	number   int // of the cause in the catalogue
	site     int
	severity fault.Severity
	p        float64 // prior among single faults; of a new part: chance that it is bad this way
	fresh    bool
	arrival  mask // cylinders touched on arrival
}

func newModel(cat *fault.Catalogue, car Car, evidence []Evidence) (*model, error) {
	car = car.withDefaults()
	if err := car.check(); err != nil {
		return nil, err
	}
	m := &model{cat: cat, car: car, first: car.Seating, all: maskOf(car.Layout.Cylinders())}
	if m.first == nil {
		m.first = fault.FirstSeating(car.Layout, car.Ignition, car.Injection)
	}
	if err := m.first.Check(car.Layout.N()); err != nil {
		return nil, err
	}
	if err := m.noteFresh(evidence); err != nil {
		return nil, err
	}
	m.addFaults()
	for i := range m.faults {
		m.lead = append(m.lead, i)
		if i > 0 && m.faults[i-1].cause == m.faults[i].cause && m.faults[i-1].site == m.faults[i].site {
			m.lead[i] = m.lead[i-1]
		}
	}
	return m, nil
}

func (c Car) withDefaults() Car {
	if c.MaxFaults == 0 {
		c.MaxFaults = 2
	}
	if c.Access == "" {
		c.Access = fault.Easy
	}
	return c
}

func (c Car) check() error {
	if !c.Layout.Valid() {
		return errors.New("belief: the car has no engine layout, give one such as i6 or a firing order")
	}
	if _, err := fault.ParseIgnition(string(c.Ignition)); err != nil {
		return err
	}
	if _, err := fault.ParseInjection(string(c.Injection)); err != nil {
		return err
	}
	if _, err := fault.ParseComplaint(string(c.Complaint)); err != nil {
		return err
	}
	if _, err := fault.ParseAccess(string(c.Access)); err != nil {
		return err
	}
	for _, cyl := range c.Hard {
		if err := c.Layout.Check(cyl); err != nil {
			return err
		}
	}
	if c.MaxFaults < 1 || c.MaxFaults > 3 {
		return fmt.Errorf("belief: %d faults at once asked for, 1 to 3 can be", c.MaxFaults)
	}
	return nil
}

// HardAt reports whether the way to a cylinder's coil and plug is blocked on
// arrival.
func (c Car) HardAt(cyl engine.Cylinder) bool {
	return c.Access == fault.Hard || slices.Contains(c.Hard, cyl)
}

// noteFresh collects the parts that came in by renewal.
func (m *model) noteFresh(evidence []Evidence) error {
	m.fresh, m.freshAt = map[fault.PartKind][]fault.PartID{}, map[fault.PartID][]engine.Cylinder{}
	for _, e := range evidence {
		r := e.Renewed
		if r == nil {
			continue
		}
		if m.first[r.Kind] == nil {
			return fmt.Errorf("%s: this car has no %s to renew", e.ID, r.Kind)
		}
		if r.Part == "" || slices.Contains(m.first[r.Kind], r.Part) {
			return fmt.Errorf("%s: the new %s needs an id of its own, got %q", e.ID, r.Kind, r.Part)
		}
		if !slices.Contains(m.fresh[r.Kind], r.Part) {
			m.fresh[r.Kind] = append(m.fresh[r.Kind], r.Part)
			m.freshAt[r.Part] = m.first.Where(r.Kind, m.first.At(r.Kind, r.Cylinder))
		}
	}
	for _, ids := range m.fresh {
		slices.Sort(ids)
	}
	return nil
}

// addFaults lists every fault the car can have, with its prior. A cause shares
// its prior equally among its sites, but for a rail of coils.
func (m *model) addFaults() {
	info := m.cat.Complaint(m.car.Complaint)
	m.pairMass = info.Pairs
	total := 0.0
	for number, x := range m.cat.Causes() {
		if x.Code == fault.NotMisfire {
			m.sites = append(m.sites, m.sitesOf(x)...)
			m.none = singleFault{cause: x, site: len(m.sites) - 1, severity: fault.SevQuiet, p: info.NotMisfire}
		}
		if !x.Fits(m.car.Ignition, m.car.Injection) || x.Code == fault.NotMisfire {
			continue
		}
		total += m.addCause(x, number, info)
	}
	single := 1 - info.NotMisfire - info.NotListed - info.Pairs
	for i := range m.faults {
		switch f := &m.faults[i]; {
		case f.fresh:
		case f.cause.Unlisted():
			f.p *= info.NotListed / 2
		default:
			f.p *= single / total
		}
	}
	m.addFreshPriors()
}

// addCause appends the faults of one cause and returns its prior weight.
func (m *model) addCause(x *fault.Cause, number int, info fault.ComplaintInfo) float64 {
	sites := m.sitesOf(x)
	if x.Wears {
		sites = slices.DeleteFunc(sites, m.isFresh)
	}
	old := 0.0
	for _, s := range sites {
		if !m.isFresh(s) {
			old += s.share
		}
	}
	if old == 0 {
		return 0
	}
	w := max(m.cat.Prior(m.car.Complaint, x.Code), m.cat.Setting("severity-floor")*100)
	if x.Unlisted() {
		w = 1
	}
	shares := severityShares(x, info)
	for _, s := range sites {
		m.sites = append(m.sites, s)
		for k, sev := range x.Severities {
			f := singleFault{cause: x, number: number, site: len(m.sites) - 1, severity: m.soften(x, s, fault.Severity(sev.Name)),
				p: w * shares[k] * s.share / old, fresh: m.isFresh(s), arrival: maskOf(s.Cylinders)}
			m.faults = append(m.faults, f)
		}
	}
	if x.Unlisted() {
		return 0
	}
	return w
}

func (m *model) isFresh(s Site) bool { return slices.Contains(m.fresh[s.Kind], s.Part) }

// severityShares weighs the severities of a cause by how well each fits the
// complaint; they sum to 1.
func severityShares(x *fault.Cause, info fault.ComplaintInfo) []float64 {
	out := make([]float64, len(x.Severities))
	sum := 0.0
	for i, s := range x.Severities {
		out[i] = s.P * fitOf(info, s.Name)
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// leastFit keeps a severity alive that a complaint does not name.
const leastFit = 1e-3

func fitOf(info fault.ComplaintInfo, severity string) float64 {
	for _, w := range info.Severities {
		if w.Name == severity {
			return max(w.P, leastFit)
		}
	}
	return leastFit
}

// soften turns dead into weak where a second coil, plug or injector keeps the
// cylinder half alive.
func (m *model) soften(x *fault.Cause, s Site, sev fault.Severity) fault.Severity {
	if sev != fault.SevDead {
		return sev
	}
	twin := m.car.Ignition == fault.TwinPlug && (x.Lives == fault.InCoil || x.Lives == fault.InPlug ||
		x.Lives == fault.InBoot || x.Lives == fault.AtCoilSeat)
	if twin || m.car.Injection == fault.Both && s.Lives == fault.InInjector {
		return fault.SevWeak
	}
	return sev
}

// addFreshPriors gives the faults of new parts their chance: that a new part is
// bad, shared among its causes as among old parts.
func (m *model) addFreshPriors() {
	bad := m.cat.Setting("new-part-bad")
	for kind := range m.fresh {
		sum := 0.0
		for _, f := range m.faults {
			if s := m.sites[f.site]; s.Kind == kind && f.fresh {
				sum += f.p
			}
		}
		parts := float64(len(m.fresh[kind]))
		for i := range m.faults {
			if f := &m.faults[i]; f.fresh && m.sites[f.site].Kind == kind {
				f.p *= bad * parts / sum
			}
		}
	}
}

// touches is the set of cylinders a fault touches while the parts sit so.
func (m *model) touches(f *singleFault, s fault.Seating, mended []Mend) mask {
	site := &m.sites[f.site]
	if site.Part == "" {
		if f.mendedBy(mended) {
			return 0
		}
		return f.arrival
	}
	var out mask
	for i, id := range s[site.Kind] {
		if id == site.Part && (site.Inside == 0 || int(site.Inside) == i+1) {
			out |= 1 << i
		}
	}
	return out
}

// mendedBy reports whether a repair has ended a fault that sits in no part.
func (f *singleFault) mendedBy(mended []Mend) bool {
	for _, m := range mended {
		if m.Repair == f.cause.Repair && (len(m.Cylinders) == 0 || f.arrival&^maskOf(m.Cylinders) == 0) {
			return true
		}
	}
	return false
}

// reach is the set of cylinders each fault touches while the parts sit so.
func (m *model) reach(s fault.Seating, mended []Mend) []mask {
	out := make([]mask, len(m.faults))
	for i := range m.faults {
		out[i] = m.touches(&m.faults[i], s, mended)
	}
	return out
}

func (m *model) reachOf(e *Evidence) []mask { return m.reach(m.seatingOf(e), e.Mended) }

// states is what a fault does to the cylinders in its mask. An engine that runs
// at all is not dead on all cylinders, so a fault of all makes them weak.
func (m *model) states(f *singleFault, r fault.Regime, touched mask) fault.Behaviour {
	b := m.cat.Behaviour(f.severity, r)
	if touched == m.all && m.car.Layout.N() > 1 {
		b.States = fault.States{b.States[fault.Works], b.States[fault.Weak] + b.States[fault.Dead], 0}
	}
	return b
}

// lifts say how much more often than by chance two causes come together:
// elsewhere, and at the same cylinder. By cause and cause.
type lifts [][][2]float64

func (m *model) lifts() lifts {
	causes := m.cat.Causes()
	number := map[string]int{}
	out := make(lifts, len(causes))
	for i, x := range causes {
		number[x.Code] = i
		out[i] = slices.Repeat([][2]float64{{1, 1}}, len(causes))
	}
	for _, l := range m.cat.Links() {
		a, okA := number[l.A]
		b, okB := number[l.B]
		if okA && okB {
			k := map[bool]int{true: 1}[l.Same]
			out[a][b][k], out[b][a][k] = l.Lift, l.Lift
		}
	}
	return out
}

func (l lifts) of(a, b *singleFault) float64 {
	v := &l[a.number][b.number]
	if a.arrival&b.arrival != 0 {
		return v[1]
	}
	return v[0]
}

var negInf = math.Inf(-1)
