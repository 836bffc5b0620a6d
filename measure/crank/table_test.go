package crank

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/practice"
)

// fourMarkEngine is a practice engine with the four-mark wheel and cam of the
// wheel table: marks 80° and 10° before each top dead centre.
func fourMarkEngine(t *testing.T, fault string, seed uint64, running bool) *practice.Engine {
	t.Helper()
	l, _ := engine.Parse("i4")
	cfg := practice.Defaults(l)
	cfg.Seed, cfg.Running = seed, running
	cfg.Wheel = practice.Wheel{Marks: []engine.CrankDeg{100, 170, 280, 350}, SpacingDeg: 0.1, JitterSeconds: 2e-6}
	cfg.Cam = practice.CamWheel{Edges: []engine.CrankDeg{50, 368, 426}, JitterSeconds: 2e-6}
	if fault != "" {
		f, err := practice.ParseFault(fault)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = []practice.Fault{f}
	}
	e, err := practice.New(cfg, practice.Sensors{Crank: true, Cam: true})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestFourMarksNameTheCylinderInOneSecond(t *testing.T) {
	for seed := range uint64(3) {
		for bad := range engine.Cylinder(5) { // 0: healthy
			for _, kind := range []string{"coil-open", "injector-dead"} {
				fault := ""
				if bad > 0 {
					fault = fmt.Sprintf("%s@%d", kind, bad)
				}
				e := fourMarkEngine(t, fault, seed+1, true)
				e.RunUntil(8.37)
				e.Take()
				e.RunUntil(9.6)
				rec := e.Take()
				l, _ := engine.Parse("i4")
				r, err := Analyse(Setup{Layout: l}, Recording{Crank: rec.Crank, Cam: rec.Cam})
				if err != nil {
					t.Fatal(err)
				}
				want := []engine.Cylinder{bad}
				if bad == 0 {
					want = nil
				}
				if !slices.Equal(r.Dead(), want) || len(r.Missing()) > 0 {
					t.Errorf("seed %d %s: dead %v, missing %v, want %v: %s", seed, fault, r.Dead(), r.Missing(), want, r.Finding.Sentence)
				}
			}
		}
	}
}

func TestFourMarksNameTheLostCompression(t *testing.T) {
	for bad := range engine.Cylinder(5) {
		for _, kind := range []string{"ring-leak@%d:1", "exhaust-valve-leak@%d:1"} {
			fault := ""
			if bad > 0 {
				fault = fmt.Sprintf(kind, bad)
			}
			e := fourMarkEngine(t, fault, 3, false)
			for _, act := range []practice.Action{"key on", "crank 4"} {
				if err := e.Do(act); err != nil {
					t.Fatal(err)
				}
			}
			e.RunUntil(4)
			rec := e.Take()
			l, _ := engine.Parse("i4")
			r, err := Cranking(Setup{Layout: l}, Recording{Crank: rec.Crank, Cam: rec.Cam})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s: %s %.2f", fault, r.Finding.Sentence, r.Relative)
			if run, err := Analyse(Setup{Layout: l}, Recording{Crank: rec.Crank, Cam: rec.Cam}); err == nil && (len(run.Dead()) > 0 || run.Finding.Verdict != finding.CannotTell) {
				t.Errorf("%s: cranking taken for running: %s", fault, run.Finding.Sentence)
			}
			got := append(slices.Clone(r.Lost), r.Weak...)
			if bad == 0 && len(got) > 0 || bad > 0 && !slices.Equal(got, []engine.Cylinder{bad}) {
				t.Errorf("%s: named %v: %s", fault, got, r.Finding.Sentence)
			}
		}
	}
}

// The table names, but its tie is no certainty: what it says of one cylinder
// against another stays within the trust in the table.
func TestTableNamesWithReserve(t *testing.T) {
	e := fourMarkEngine(t, "coil-open@2", 1, true)
	e.RunUntil(12)
	rec := e.Take()
	l, _ := engine.Parse("i4")
	r, err := Analyse(Setup{Layout: l}, Recording{Crank: rec.Crank, Cam: rec.Cam})
	if err != nil || !slices.Equal(r.Dead(), []engine.Cylinder{2}) {
		t.Fatal(r, err)
	}
	if s := r.Finding.Sentence; !strings.HasPrefix(s, "If this wheel is mounted as in the built-in table: cylinder 2 gives little work or none") {
		t.Errorf("the name is said without what it hangs on: %s", s)
	}
	of := func(c engine.Cylinder) float64 {
		return r.Finding.Likelihood.Of(finding.AllWork(4).With(l.Position(c), finding.Dead))
	}
	for _, other := range []engine.Cylinder{1, 3, 4} {
		if d := of(2) - of(other); d < 2 || d > math.Log(tableTrust/(1-tableTrust)*3)+0.1 {
			t.Errorf("2 against %d: %.2f", other, d)
		}
	}
	if h := r.Finding.Likelihood.Of(finding.AllWork(4)); of(3) < h+3 {
		t.Errorf("dead %.2f, healthy %.2f: that one is dead is sure", of(3), h)
	}
}
