package belief_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func catalogue(t testing.TB) *fault.Catalogue {
	t.Helper()
	c, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func layout(t testing.TB, name string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func six(t testing.TB) belief.Car {
	return belief.Car{Layout: layout(t, "i6"), Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}
}

func cut(c engine.Cylinder, outcome string) belief.Evidence {
	return belief.Evidence{ID: fmt.Sprintf("cut %d", c), Regime: fault.Idle, Miss: belief.Present,
		Reading: &belief.Reading{Check: "cut", Cylinders: []engine.Cylinder{c}, Outcome: outcome}}
}

func cutsWithDead(dead engine.Cylinder, n int) []belief.Evidence {
	var out []belief.Evidence
	for c := range n {
		outcome := "normal"
		if engine.Cylinder(c+1) == dead {
			outcome = "none"
		}
		out = append(out, cut(engine.Cylinder(c+1), outcome))
	}
	return out
}

func swap(outcome belief.Follow) belief.Evidence {
	return belief.Evidence{ID: "swap", Regime: fault.Idle, Miss: belief.Present,
		Swap: &belief.Swap{Kind: fault.Coil, A: 3, B: 5, Outcome: outcome, Before: 60, After: 60}}
}

func build(t testing.TB, car belief.Car, ev []belief.Evidence) *belief.Belief {
	t.Helper()
	b, err := belief.New(catalogue(t), car, ev)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// suspect is the probability of a cause at a named site.
func suspect(t testing.TB, b *belief.Belief, cause, site string) float64 {
	t.Helper()
	for _, s := range b.Suspects() {
		if s.Cause == cause && s.Site.Name == site {
			return s.P
		}
	}
	t.Fatalf("no %s at %s among the suspects", cause, site)
	return 0
}

// A cylinder whose cut-out changes nothing is not working: common practice.
func TestCutOutsNameTheCylinder(t *testing.T) {
	b := build(t, six(t), cutsWithDead(3, 6))
	for _, c := range b.Cylinders(nil, fault.Idle) {
		switch {
		case c.Cylinder == 3 && c.Fault < 0.95:
			t.Errorf("cylinder 3: a fault with %.3f, want 0.95 and more", c.Fault)
		case c.Cylinder == 3 && c.Weak+c.Dead < 0.8:
			t.Errorf("cylinder 3 misses with %.3f, want 0.8 and more", c.Weak+c.Dead)
		case c.Cylinder != 3 && c.Fault > 0.06:
			t.Errorf("cylinder %d: a fault with %.3f, want below 0.06", c.Cylinder, c.Fault)
		}
	}
}

// If the miss follows the part, the part is bad; if it stays, it is the plug or
// something else at that cylinder; if it vanishes, nothing is proven: common
// practice.
func TestSwapOutcomes(t *testing.T) {
	ev := cutsWithDead(3, 6)
	before := build(t, six(t), ev)
	follows := build(t, six(t), append(ev, swap(belief.Follows)))
	stays := build(t, six(t), append(ev, swap(belief.Stays)))
	vanishes := build(t, six(t), append(ev, swap(belief.Vanishes)))
	if p := suspect(t, follows, "coil", "coil C"); p < 0.95 {
		t.Errorf("followed: coil C bad with %.3f, want 0.95 and more", p)
	}
	if p := suspect(t, stays, "coil", "coil C"); p > 0.05 {
		t.Errorf("stayed: coil C bad with %.3f, want it cleared", p)
	}
	for cause, site := range map[string]string{"plug-fouled": "plug C", "boot": "boot C", "coil-wiring": "cylinder 3", "injector-dead": "injector C"} {
		if was, is := suspect(t, before, cause, site), suspect(t, stays, cause, site); is < 1.05*was {
			t.Errorf("stayed: %s went from %.3f to %.3f, want it to rise", cause, was, is)
		}
	}
	for _, s := range vanishes.Suspects()[:1] {
		if s.P > 0.5 {
			t.Errorf("vanished: %v with %.3f, want nobody accused", s.Fault, s.P)
		}
	}
	if was, is := suspect(t, before, "coil-wiring", "cylinder 3"), suspect(t, vanishes, "coil-wiring", "cylinder 3"); is < 2*was {
		t.Errorf("vanished: the connector went from %.3f to %.3f, want it to double", was, is)
	}
}

// "Stays" counts only as far as a miss was there and was watched long enough.
func TestStaysWithoutAMissSaysLittle(t *testing.T) {
	car := six(t)
	car.Complaint = fault.WeakOne
	// against an untouched coil, since that nothing misses speaks against all
	odds := func(miss belief.Presence, seconds float64) float64 {
		e := swap(belief.Vanishes)
		e.Miss, e.Swap.After = miss, seconds
		b := build(t, car, []belief.Evidence{e})
		return suspect(t, b, "coil", "coil C") / suspect(t, b, "coil", "coil A")
	}
	if o := odds(belief.Absent, 5); math.Abs(o-1) > 0.1 {
		t.Errorf("vanished while no miss was there: odds of coil C against another %.3f, want 1", o)
	}
	car.Complaint = fault.DeadOne
	ev := cutsWithDead(3, 6)
	left := func(seconds float64) float64 {
		e := swap(belief.Vanishes)
		e.Swap.After = seconds
		b := build(t, car, append(ev, e))
		return suspect(t, b, "coil", "coil C") / suspect(t, b, "coil-wiring", "cylinder 3")
	}
	if short, long := left(5), left(600); short < 1.15*long {
		t.Errorf("watched 5 s the odds of coil against connector are %.3f, watched 600 s %.3f: longer watching must clear it more", short, long)
	}
}

// A renewed coil that ends the miss proves the coil; one that does not clears it.
func TestRenewal(t *testing.T) {
	car := six(t)
	ev := append(cutsWithDead(3, 6), swap(belief.Follows))
	seat := fault.FirstSeating(car.Layout, car.Ignition, car.Injection)
	swapped, err := seat.Swapped(fault.Coil, 3, 5)
	if err != nil {
		t.Fatal(err)
	}
	renewed, err := swapped.Renewed(fault.Coil, 5, "coil G")
	if err != nil {
		t.Fatal(err)
	}
	ev = append(ev, belief.Evidence{ID: "renewal", Seating: swapped, Renewed: &belief.Renewed{Kind: fault.Coil, Cylinder: 5, Part: "coil G"}})
	after := func(outcome string) *belief.Belief {
		return build(t, car, append(ev, belief.Evidence{ID: "feel", Seating: renewed, Regime: fault.Idle, Reading: &belief.Reading{Check: "feel", Outcome: outcome}}))
	}
	gone, still := after("smooth"), after("misses")
	if p := suspect(t, gone, "coil", "coil C"); p < 0.99 {
		t.Errorf("the miss is gone: coil C was bad with %.4f, want 0.99 and more", p)
	}
	if p := suspect(t, still, "coil", "coil C"); p > suspect(t, gone, "coil", "coil C") {
		t.Errorf("the miss stays: coil C was bad with %.4f, more than when it went", p)
	}
	if p, q := suspect(t, still, "coil", "coil G"), suspect(t, gone, "coil", "coil G"); p < 5*q {
		t.Errorf("the miss stays: the new coil is bad with %.4f against %.4f, want it suspected", p, q)
	}
	for _, c := range gone.Cylinders(renewed, fault.Idle) {
		if c.Weak+c.Dead > 0.03 {
			t.Errorf("the miss is gone: cylinder %d misses with %.3f", c.Cylinder, c.Weak+c.Dead)
		}
	}
}

func TestMovedBy(t *testing.T) {
	b := build(t, six(t), append(cutsWithDead(3, 6), swap(belief.Follows)))
	moved := b.MovedBy(b.Suspects()[0].Fault)
	if moved[0].ID != "swap" || moved[0].LogRatio < 2 {
		t.Errorf("coil C was moved most by %q (%.2f), want the swap", moved[0].ID, moved[0].LogRatio)
	}
	if moved[1].ID != "cut 3" {
		t.Errorf("then by %q, want cut 3", moved[1].ID)
	}
}

// What one entry said in two pieces moves as one.
func TestMovedByOfOneEntry(t *testing.T) {
	together := cutsWithDead(3, 6)
	for i := range together {
		together[i].ID = "entry 2"
	}
	b := build(t, six(t), append(together, swap(belief.Follows)))
	moved := b.MovedBy(b.Suspects()[0].Fault)
	if len(moved) != 2 {
		t.Fatalf("moved by %+v, want the swap and the one entry", moved)
	}
	lead := b.Suspects()[0]
	alone := build(t, six(t), []belief.Evidence{swap(belief.Follows)})
	odds := func(p float64) float64 { return math.Log(p / (1 - p)) }
	want := odds(lead.P) - odds(suspect(t, alone, "coil", "coil C"))
	if got := moved[1].LogRatio; moved[1].ID != "entry 2" || math.Abs(got-want) > 1e-9 {
		t.Errorf("%q moved by %.6f, want entry 2 by %.6f", moved[1].ID, got, want)
	}
}

// certain lays a check over the catalogue whose answers leave no doubt.
func certain(t testing.TB) *fault.Catalogue {
	t.Helper()
	base := os.DirFS(filepath.Join("..", "fault", "data"))
	c, err := fault.Load(base, fstest.MapFS{
		"checks.csv":    {Data: []byte(header(t, "checks.csv") + "sure,Sure,Is it the coil?,cylinder,,no,1,1,0,0,any,*,*,,,,test\n")},
		"outcomes.csv":  {Data: []byte(header(t, "outcomes.csv") + "sure,no,no,test\nsure,yes,yes,test\n")},
		"responses.csv": {Data: []byte(header(t, "responses.csv") + "sure,sound,*,*,no:1 yes:0,test\nsure,coil,*,*,no:0 yes:1,test\nsure,unlisted,*,*,no:1 yes:0,test\nsure,unlisted-all,*,*,no:1 yes:0,test\n")},
		"settings.csv":  {Data: []byte(header(t, "settings.csv") + "unlisted-flat,0,,test,test\n")},
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func header(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "fault", "data", name))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		if !strings.HasPrefix(line, "#") {
			return line
		}
	}
	t.Fatalf("%s is empty", name)
	return ""
}

func TestContradictionIsNamed(t *testing.T) {
	sure := func(id, outcome string) belief.Evidence {
		return belief.Evidence{ID: id, Reading: &belief.Reading{Check: "sure", Cylinders: []engine.Cylinder{2}, Outcome: outcome}}
	}
	_, err := belief.New(certain(t), six(t), []belief.Evidence{sure("reading 1", "yes"), cut(4, "normal"), sure("reading 3", "no")})
	if err == nil {
		t.Fatal("two certain readings that exclude each other were accepted")
	}
	for _, want := range []string{"reading 1", "reading 3", "contradict"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error %q does not say %q", err, want)
		}
	}
	b, err := belief.New(certain(t), six(t), []belief.Evidence{sure("reading 1", "yes")})
	if err != nil {
		t.Fatal(err)
	}
	if p := suspect(t, b, "coil", "coil B"); p < 1-tiny {
		t.Errorf("a certain yes leaves coil B at %.12f", p)
	}
	if _, err := b.With(sure("reading 2", "no")); err == nil || !strings.Contains(err.Error(), "reading 1") {
		t.Errorf("a contradiction added later gives %v", err)
	}
}

func TestBadEvidence(t *testing.T) {
	reading := func(check, outcome string, c ...engine.Cylinder) belief.Evidence {
		return belief.Evidence{ID: "e", Reading: &belief.Reading{Check: check, Cylinders: c, Outcome: outcome}}
	}
	move := func(kind fault.PartKind, a, b engine.Cylinder, after float64) belief.Evidence {
		return belief.Evidence{ID: "e", Swap: &belief.Swap{Kind: kind, A: a, B: b, Outcome: belief.Stays, After: after}}
	}
	for want, e := range map[string]belief.Evidence{
		"1 to 6":               reading("cut", "none", 9),
		"say at which":         reading("cut", "none"),
		"normal, small, none":  reading("cut", "bad", 1),
		"unknown check":        reading("crystal-ball", "yes", 1),
		"enter it as one":      reading("swap-coil", "follows", 1),
		"with itself":          move(fault.Coil, 3, 3, 0),
		"no lead":              move(fault.Lead, 3, 4, 0),
		"does not exist":       move(fault.Coil, 3, 7, 0),
		"0 (unknown) or more":  move(fault.Coil, 3, 4, math.NaN()),
		"exactly one":          {ID: "e"},
		"own":                  {ID: "e", Renewed: &belief.Renewed{Kind: fault.Coil, Cylinder: 1, Part: "coil A"}},
		"neither with the car": {ID: "e", Seating: fault.Seating{fault.Coil: {"x", "b", "c", "d", "e", "f"}}, Reading: &belief.Reading{Check: "feel", Outcome: "smooth"}},
		"places given":         {ID: "e", Seating: fault.Seating{fault.Coil: {"coil A"}}, Reading: &belief.Reading{Check: "feel", Outcome: "smooth"}},
		"follows, stays":       {ID: "e", Swap: &belief.Swap{Kind: fault.Coil, A: 1, B: 2, Outcome: "jumps"}},
		"use one of any, idle": {ID: "e", Regime: "upside-down", Reading: &belief.Reading{Check: "feel", Outcome: "smooth"}},
		"use present, absent":  {ID: "e", Miss: "maybe", Reading: &belief.Reading{Check: "feel", Outcome: "smooth"}},
		"a time of 0 or more":  {ID: "e", Watched: &belief.Watched{Seconds: math.NaN()}},
		"the engine has 6":     {ID: "e", Finding: &finding.Likelihood{Log: map[finding.Pattern]float64{"..d": 0}}},
		"not a finite number":  {ID: "e", Finding: &finding.Likelihood{Else: math.NaN()}},
	} {
		if _, err := belief.New(catalogue(t), six(t), []belief.Evidence{e}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error that says %q, got %v", want, err)
		}
	}
}

// A prior wrong by a factor scales the odds by it: 0.5 becomes 2/3 and 1/3.
func TestIfPriorWrong(t *testing.T) {
	low, high := belief.IfPriorWrong(0.5, 2)
	if math.Abs(low-1.0/3) > tiny || math.Abs(high-2.0/3) > tiny {
		t.Errorf("0.5 by a factor of two: %g to %g, want 1/3 to 2/3", low, high)
	}
	// and so it does in the posterior itself, for a cause among single faults
	car := six(t)
	car.MaxFaults = 1
	ev := cutsWithDead(3, 6)
	doubled := catalogue(t).WithPriors(func(_ fault.Complaint, cause string, share float64) float64 {
		if cause == "coil" {
			return 2 * share
		}
		return share
	})
	b, err := belief.New(doubled, car, ev)
	if err != nil {
		t.Fatal(err)
	}
	odds := func(b *belief.Belief) float64 {
		return suspect(t, b, "coil", "coil C") / suspect(t, b, "plug-fouled", "plug C")
	}
	if got, want := odds(b), 2*odds(build(t, car, ev)); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("odds of coil against plug %g, want %g", got, want)
	}
}
