package belief_test

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// tiny is the agreement asked of two exact computations of one number.
const tiny = 1e-12

func fastSuspects(b *belief.Belief) map[string]float64 {
	out := map[string]float64{plainKey(fault.NotMisfire, "", 0, nil): b.NotMisfire()}
	for _, s := range b.Suspects() {
		out[plainKey(s.Cause, s.Site.Part, s.Site.Inside, s.Site.Cylinders)] += s.P
	}
	return out
}

// checks sets how many random cases the laws of a test are tried on; the failing
// case prints its own seed.
func checks(t *testing.T, n int) {
	t.Helper()
	old := flag.Lookup("rapid.checks").Value.String()
	if err := flag.Set("rapid.checks", strconv.Itoa(n)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := flag.Set("rapid.checks", old); err != nil {
			t.Error(err)
		}
	})
}

// drawCar picks a small car of any kind.
func drawCar(t *rapid.T) belief.Car {
	name := rapid.SampledFrom([]string{"vtwin-90", "i3", "1-3-4-2,drivers=1-4/2-3,feeds=1-2/3-4", "1-3-2-4,banks=1-3/2-4,cutset=1-2"}).Draw(t, "layout")
	l, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return belief.Car{Layout: l,
		Ignition:  rapid.SampledFrom(fault.Ignitions()).Draw(t, "ignition"),
		Injection: rapid.SampledFrom(fault.Injections()).Draw(t, "injection"),
		Complaint: rapid.SampledFrom(fault.Complaints()).Draw(t, "complaint"),
	}
}

// drawEvidence makes up a job: readings, swaps that move parts, a renewal,
// findings.
func drawEvidence(t *rapid.T, cat *fault.Catalogue, car belief.Car, most int) []belief.Evidence {
	seat := fault.FirstSeating(car.Layout, car.Ignition, car.Injection)
	var out []belief.Evidence
	for i := range rapid.IntRange(0, most).Draw(t, "pieces") {
		e := belief.Evidence{ID: fmt.Sprintf("piece %d", i+1), Seating: seat,
			Regime: rapid.SampledFrom(fault.Regimes()).Draw(t, "regime"),
			Miss:   rapid.SampledFrom([]belief.Presence{belief.Unknown, belief.Present, belief.Absent}).Draw(t, "miss")}
		switch rapid.IntRange(0, 6).Draw(t, "kind") {
		case 0:
			seat = drawSwap(t, car, &e, seat)
		case 1:
			e.Finding = drawFinding(t, car.Layout.N())
			e.Source = rapid.SampledFrom([]string{"", "sound", "crank"}).Draw(t, "source")
		case 2:
			seat = drawRenewal(t, car, &e, seat, i)
		case 3:
			e.Miss = belief.Unknown
			e.Watched = &belief.Watched{Seconds: rapid.Float64Range(0, 900).Draw(t, "seconds"), Came: rapid.Bool().Draw(t, "came")}
		default:
			e.Reading = drawReading(t, cat, car)
		}
		if e.Reading != nil || e.Swap != nil || e.Finding != nil || e.Renewed != nil || e.Watched != nil {
			out = append(out, e)
		}
	}
	return out
}

func drawCylinder(t *rapid.T, l engine.Layout) engine.Cylinder {
	return engine.Cylinder(rapid.IntRange(1, l.N()).Draw(t, "cylinder"))
}

func drawSwap(t *rapid.T, car belief.Car, e *belief.Evidence, seat fault.Seating) fault.Seating {
	kind := rapid.SampledFrom(fault.KindsOf(car.Ignition, car.Injection)).Draw(t, "part")
	a, b := drawCylinder(t, car.Layout), drawCylinder(t, car.Layout)
	after, err := seat.Swapped(kind, a, b)
	if err != nil || kind == fault.Coil && car.Ignition == fault.Cassette {
		return seat
	}
	e.Swap = &belief.Swap{Kind: kind, A: a, B: b, Outcome: rapid.SampledFrom(belief.FollowValues()).Draw(t, "follow"),
		After: rapid.Float64Range(0, 600).Draw(t, "seconds")}
	return after
}

func drawRenewal(t *rapid.T, car belief.Car, e *belief.Evidence, seat fault.Seating, i int) fault.Seating {
	kind := rapid.SampledFrom(fault.KindsOf(car.Ignition, car.Injection)).Draw(t, "part")
	c, id := drawCylinder(t, car.Layout), fault.PartID(fmt.Sprintf("new %s %d", kind, i))
	after, err := seat.Renewed(kind, c, id)
	if err != nil {
		t.Fatal(err)
	}
	e.Renewed = &belief.Renewed{Kind: kind, Cylinder: c, Part: id}
	return after
}

func drawReading(t *rapid.T, cat *fault.Catalogue, car belief.Car) *belief.Reading {
	var checks []*fault.Check
	for _, k := range cat.Checks() {
		if k.Swaps == "" {
			checks = append(checks, k)
		}
	}
	k := rapid.SampledFrom(checks).Draw(t, "check")
	r := &belief.Reading{Check: k.Code, Outcome: rapid.SampledFrom(k.OutcomeCodes()).Draw(t, "outcome")}
	if k.Scope != fault.WholeEngine {
		r.Cylinders = []engine.Cylinder{drawCylinder(t, car.Layout)}
	}
	if k.Scope == fault.EachCylinder && rapid.Bool().Draw(t, "all") {
		r.Cylinders = car.Layout.Cylinders()
	}
	return r
}

func drawFinding(t *rapid.T, n int) *finding.Likelihood {
	l := &finding.Likelihood{Anonymous: rapid.Bool().Draw(t, "anonymous"), Log: map[finding.Pattern]float64{}, Else: rapid.Float64Range(-12, 0).Draw(t, "else")}
	for k := range n {
		p := finding.AllWork(n).With(k, finding.Dead)
		if l.Anonymous {
			p = p.Canonical()
		}
		l.Log[p] = rapid.Float64Range(-9, 0).Draw(t, "log")
	}
	l.Log[finding.AllWork(n)] = rapid.Float64Range(-9, 0).Draw(t, "log")
	return l
}

// fewCauses cuts the catalogue down to some causes, so that the plain
// posterior stays quick. The two that every catalogue has stay.
func fewCauses(t testing.TB, causes ...string) *fault.Catalogue {
	t.Helper()
	keep := append(causes, fault.NotMisfire, fault.Unlisted, fault.UnlistedAll)
	small := fstest.MapFS{}
	for name, columns := range map[string][]int{"causes.csv": {0}, "priors.csv": {0}, "links.csv": {0, 1}, "responses.csv": {1},
		"settings.csv": nil, "units.csv": nil, "cautions.csv": nil, "complaints.csv": nil, "severities.csv": nil,
		"checks.csv": nil, "outcomes.csv": nil, "readings.csv": nil, "repairs.csv": nil} {
		data, err := os.ReadFile(filepath.Join("..", "fault", "data", name))
		if err != nil {
			t.Fatal(err)
		}
		small[name] = &fstest.MapFile{Data: keepRows(t, data, columns, keep)}
	}
	c, err := fault.Load(small)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// keepRows drops the rows that name a cause outside keep in one of the columns.
func keepRows(t testing.TB, data []byte, columns []int, keep []string) []byte {
	full := catalogue(t)
	var out strings.Builder
	for line := range strings.Lines(string(data)) {
		fields := strings.Split(line, ",")
		drop := false
		for _, k := range columns {
			if k < len(fields) {
				_, err := full.Cause(fields[k])
				drop = drop || err == nil && !slices.Contains(keep, fields[k])
			}
		}
		if !drop {
			out.WriteString(line)
		}
	}
	return []byte(out.String())
}

func compare(t *rapid.T, cat *fault.Catalogue, car belief.Car, ev []belief.Evidence) {
	b, err := belief.New(cat, car, ev)
	if err != nil {
		t.Fatal(err)
	}
	want, got := newPlain(cat, car, ev).suspects(), fastSuspects(b)
	if len(want) != len(got) {
		t.Fatalf("%d suspects, the plain one has %d", len(got), len(want))
	}
	same(t, want, got, tiny)
}

// The fast posterior equals the plain one. Tolerance 1e-12 absolute.
func TestEqualsBruteForce(t *testing.T) {
	checks(t, 8)
	catalogues := []*fault.Catalogue{
		fewCauses(t, "coil", "plug-fouled", "boot", "coil-wiring", "injector-dead", "coil-feed"),
		fewCauses(t, "coil", "head-gasket-pair", "cam-timing", "plenum-leak", "timing-signal", "injector-driver", "deactivation", "overlap-backflow"),
		fewCauses(t, "plug-worn", "plug-set", "injector-leaking", "rings", "valve-gear", "false-signal"),
	}
	rapid.Check(t, func(t *rapid.T) {
		cat := rapid.SampledFrom(catalogues).Draw(t, "catalogue")
		car := drawCar(t)
		compare(t, cat, car, drawEvidence(t, cat, car, 6))
	})
}

// And with the whole catalogue, on an engine small enough to wait for.
func TestWholeCatalogueEqualsBruteForce(t *testing.T) {
	cat := catalogue(t)
	car := belief.Car{Layout: layout(t, "vtwin-90"), Ignition: fault.CoilOnPlug, Injection: fault.Direct, Complaint: fault.WeakOne}
	checks(t, 1)
	rapid.Check(t, func(t *rapid.T) { compare(t, cat, car, drawEvidence(t, cat, car, 4)) })
}

// Three faults at once.
func TestTriplesEqualBruteForce(t *testing.T) {
	checks(t, 6)
	cat := fewCauses(t, "coil", "plug-fouled", "runner-leak", "plenum-leak")
	car := belief.Car{Layout: layout(t, "vtwin-90"), Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough, MaxFaults: 3}
	rapid.Check(t, func(t *rapid.T) { compare(t, cat, car, drawEvidence(t, cat, car, 4)) })
}

func same(t *rapid.T, a, b map[string]float64, tolerance float64) {
	t.Helper()
	for _, key := range slices.Sorted(maps.Keys(a)) {
		if math.Abs(a[key]-b[key]) > tolerance || math.IsNaN(a[key]) {
			t.Fatalf("%s: %.15g and %.15g", key, a[key], b[key])
		}
	}
}

func TestOrderDoesNotMatter(t *testing.T) {
	checks(t, 12)
	cat := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		car := drawCar(t)
		ev := drawEvidence(t, cat, car, 8)
		shuffled := rapid.Permutation(ev).Draw(t, "order")
		a, errA := belief.New(cat, car, ev)
		b, errB := belief.New(cat, car, shuffled)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		same(t, fastSuspects(a), fastSuspects(b), tiny)
	})
}

func TestStepByStepEqualsAtOnce(t *testing.T) {
	checks(t, 10)
	cat := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		car := drawCar(t)
		ev := drawEvidence(t, cat, car, 6)
		stepByStep(t, cat, car, ev)
	})
}

// stepByStep compares evidence taken one by one with all of it at once; logs are
// taken and undone at each step.
func stepByStep(t *rapid.T, cat *fault.Catalogue, car belief.Car, ev []belief.Evidence) {
	at, err := belief.New(cat, car, nil)
	for _, e := range ev {
		if err == nil {
			at, err = at.With(e)
		}
	}
	whole, errWhole := belief.New(cat, car, ev)
	if err != nil || errWhole != nil {
		t.Fatal(err, errWhole)
	}
	same(t, fastSuspects(at), fastSuspects(whole), 1e-11)
}

// A reading that is repeated makes the earlier ones count less. Step by step that
// must come to the same as at once, also where an outcome cannot be.
func TestRepeatsStepByStepEqualAtOnce(t *testing.T) {
	checks(t, 12)
	cat := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		car := drawCar(t)
		ev := drawEvidence(t, cat, car, 4)
		for _, e := range ev {
			for range rapid.IntRange(0, 2).Draw(t, "repeats") {
				if e.Reading != nil || e.Finding != nil {
					ev = append(ev, e)
				}
			}
		}
		stepByStep(t, cat, car, ev)
	})
}

func TestUninformativeEvidenceChangesNothing(t *testing.T) {
	checks(t, 12)
	cat := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		car := drawCar(t)
		ev := drawEvidence(t, cat, car, 4)
		flat := belief.Evidence{ID: "flat", Source: rapid.SampledFrom([]string{"", "sound"}).Draw(t, "source"), Finding: &finding.Likelihood{Else: rapid.Float64Range(-50, 50).Draw(t, "level")},
			Miss: rapid.SampledFrom([]belief.Presence{belief.Unknown, belief.Present, belief.Absent}).Draw(t, "miss")}
		a, errA := belief.New(cat, car, ev)
		b, errB := belief.New(cat, car, append(ev, flat))
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		same(t, fastSuspects(a), fastSuspects(b), tiny)
	})
}

// Giving the cylinders other numbers gives the answers other numbers.
func TestRelabelling(t *testing.T) {
	checks(t, 12)
	cat := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		order := []engine.Cylinder{1, 3, 4, 2}
		to := rapid.Permutation([]engine.Cylinder{1, 2, 3, 4}).Draw(t, "numbers") // new number by old − 1
		car := func(name func(engine.Cylinder) engine.Cylinder) belief.Car {
			s := engine.Spec{}
			for _, c := range order {
				s.Order = append(s.Order, name(c))
			}
			s.Banks = [][]engine.Cylinder{{name(1), name(2), name(3), name(4)}}
			l, err := engine.New(s)
			if err != nil {
				t.Fatal(err)
			}
			return belief.Car{Layout: l, Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.WeakOne}
		}
		old := car(func(c engine.Cylinder) engine.Cylinder { return c })
		renamed := car(func(c engine.Cylinder) engine.Cylinder { return to[c-1] })
		var evOld, evNew []belief.Evidence
		for range rapid.IntRange(1, 4).Draw(t, "pieces") {
			r := drawReading(t, cat, old)
			e := belief.Evidence{Reading: r, Regime: fault.Idle}
			evOld = append(evOld, e)
			moved := *r
			moved.Cylinders = nil
			for _, c := range r.Cylinders {
				moved.Cylinders = append(moved.Cylinders, to[c-1])
			}
			evNew = append(evNew, belief.Evidence{Reading: &moved, Regime: fault.Idle})
		}
		a, errA := belief.New(cat, old, evOld)
		b, errB := belief.New(cat, renamed, evNew)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		want := b.Cylinders(nil, fault.Idle)
		for _, s := range a.Cylinders(nil, fault.Idle) {
			w := want[to[s.Cylinder-1]-1]
			if math.Abs(s.Works-w.Works) > tiny || math.Abs(s.Dead-w.Dead) > tiny || math.Abs(s.Fault-w.Fault) > tiny {
				t.Fatalf("cylinder %d: %+v, under its new number %+v", s.Cylinder, s, w)
			}
		}
	})
}

func TestProbabilitiesAreOne(t *testing.T) {
	checks(t, 12)
	cat := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		car := drawCar(t)
		b, err := belief.New(cat, car, drawEvidence(t, cat, car, 10))
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, h := range b.Top(b.Size()) {
			if math.IsNaN(h.P) || h.P < 0 {
				t.Fatalf("%v has probability %g", h, h.P)
			}
			sum += h.P
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("all hypotheses together have %g", sum)
		}
	})
}
