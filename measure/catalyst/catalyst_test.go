package catalyst_test

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"halforder/engine"
	"halforder/measure/catalyst"

	"pgregory.net/rapid"
)

var noon = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

func after(seconds float64) time.Time {
	return noon.Add(time.Duration(seconds * float64(time.Second)))
}

func open(t testing.TB, text string, s catalyst.Setting, groups ...[]engine.Cylinder) *catalyst.Ledger {
	t.Helper()
	b, err := catalyst.New(mustParse(text), s, groups...)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func model(feeding int) catalyst.Model {
	return catalyst.Model{BrickJPerK: catalyst.BrickJPerK, Feeding: feeding}
}

// Derived: the table of trade notes 3.10, printed there to whole kelvins and
// seconds.
func TestModelReproducesTheTable(t *testing.T) {
	for m, want := range map[int]float64{2: 1190, 3: 794, 4: 595, 6: 397, 8: 298} {
		if got := model(m).Equilibrium(1); math.Abs(got-want) > 1 {
			t.Errorf("%d cylinders: equilibrium %.1f K, want %g", m, got, want)
		}
	}
	for flow, want := range map[float64]float64{4: 217, 12: 72, 40: 22} {
		if got := model(4).TimeConstant(flow); math.Abs(got-want) > 1 {
			t.Errorf("%g g/s: time constant %.1f s, want %g", flow, got, want)
		}
	}
	for _, row := range []struct{ flow, seconds, want float64 }{
		{4, 5, 14}, {4, 10, 27}, {4, 60, 144}, {4, 300, 445},
		{12, 10, 77}, {12, 60, 335},
		{40, 5, 122}, {40, 10, 219}, {40, 30, 445},
	} {
		if got := model(4).Rise(0, 1, row.flow, row.seconds); math.Abs(got-row.want) > 1 {
			t.Errorf("%g g/s for %g s: %.1f K, want %g", row.flow, row.seconds, got, row.want)
		}
	}
}

// Derived: methods notes G, 22.8 to 24.9 K per per cent of misfire for heat
// capacities 1200 to 1100; ours is 1150.
func TestRisePerPercentOfMisfire(t *testing.T) {
	if got := model(100).Equilibrium(1); got < 22.8 || got > 24.9 {
		t.Errorf("one of a hundred firings lost: %.2f K, want 22.8 to 24.9", got)
	}
}

func TestSecondsToInvertsRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := model(rapid.IntRange(1, 8).Draw(t, "m"))
		flow, start := rapid.Float64Range(0.5, 60).Draw(t, "flow"), rapid.Float64Range(0, 200).Draw(t, "start")
		limit := rapid.Float64Range(start, m.Equilibrium(1)).Draw(t, "limit")
		s := m.SecondsTo(limit, start, 1, flow)
		if got := m.Rise(start, 1, flow, s); !math.IsInf(s, 0) && math.Abs(got-limit) > 1e-6 {
			t.Fatalf("after %g s the rise is %g K, want %g", s, got, limit)
		}
	})
}

func TestLedgerIsTheModelInThePlainSetting(t *testing.T) {
	b := open(t, "i4", catalyst.Plain)
	b.Set(noon, catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{2}})
	for _, seconds := range []float64{5, 10, 60, 300} {
		want := model(4).Rise(0, 1, 4, seconds)
		if got := b.During(after(seconds)).RiseK[0]; math.Abs(got-want) > 1e-9 {
			t.Errorf("after %g s: %g K, want %g", seconds, got, want)
		}
	}
}

func TestOnlyTheCutBankHeatsAndSmallerBanksHeatMore(t *testing.T) {
	b := open(t, "v6-142536", catalyst.Careful)
	c := b.Layout.Banks()[1][0]
	b.Set(noon, catalyst.Condition{Load: catalyst.Idle, FlowGPS: 8, NoSpark: []engine.Cylinder{c}})
	rise := b.During(after(8)).RiseK
	if rise[0] != 0 || rise[1] < 10 {
		t.Errorf("rises %v K, want only bank 2 to heat", rise)
	}
	joint := open(t, "v6-142536", catalyst.Careful, b.Layout.Cylinders())
	joint.Set(noon, catalyst.Condition{Load: catalyst.Idle, FlowGPS: 8, NoSpark: []engine.Cylinder{c}})
	if far := joint.During(after(3600)).RiseK[0]; far >= b.During(after(3600)).RiseK[1] {
		t.Errorf("one catalyst for six settles at %g K, want less than a bank of three", far)
	}
}

func TestSparkCutEndsAtTheHardStop(t *testing.T) {
	b := open(t, "i4", catalyst.Careful)
	idle := catalyst.Condition{Load: catalyst.Idle}
	cut := catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{1}}
	b.Set(noon, idle)
	a, err := b.Before(noon, cut)
	if err != nil || a.Seconds != 5 || a.HardSeconds != 10 || a.WaitSeconds != 0 {
		t.Fatalf("first cut: %+v, %v; want 5 s wanted, 10 s hard (trade notes 3.1)", a, err)
	}
	b.Set(noon, cut)
	if s := b.During(after(6)); s.Left != 0 || math.Abs(s.HardLeft-4) > 1e-9 || s.Stop {
		t.Errorf("after 6 s: %+v", s)
	}
	if s := b.During(after(10)); !s.Stop {
		t.Errorf("after 10 s: %+v, want stop", s)
	}
	b.Set(after(5), idle)
	if a, _ := b.Before(after(15), cut); a.Seconds != 0 || math.Abs(a.WaitSeconds-20) > 1e-9 {
		t.Errorf("10 s after a cut: %+v, want 20 s of waiting", a)
	}
	if a, _ := b.Before(after(36), cut); a.Seconds != 5 {
		t.Errorf("31 s after a cut: %+v, want another", a)
	}
}

func TestVisitTotalRunsOut(t *testing.T) {
	b := open(t, "i4", catalyst.Careful)
	idle, at := catalyst.Condition{Load: catalyst.Idle}, 0.0
	cut := catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{1}}
	cuts := 0
	for ; cuts < 100; cuts++ {
		a, _ := b.Before(after(at), cut)
		if a.WaitSeconds == catalyst.Never {
			break
		}
		if a.Seconds == 0 {
			at += a.WaitSeconds
			a, _ = b.Before(after(at), cut)
		}
		b.Set(after(at), cut)
		at += a.Seconds
		b.Set(after(at), idle)
	}
	if cuts != 12 || b.SparkSeconds > 60 {
		t.Errorf("%d cuts and %g s on one visit, want 12 of 5 s", cuts, b.SparkSeconds)
	}
	b.NewVisit(after(at + 86400))
	if a, _ := b.Before(after(at+86400), cut); a.Seconds != 5 {
		t.Errorf("next day: %+v", a)
	}
}

func TestLoadAndInjector(t *testing.T) {
	b := open(t, "i4", catalyst.Careful)
	if a, _ := b.Before(noon, catalyst.Condition{Load: catalyst.Road, NoSpark: []engine.Cylinder{1}}); a.WaitSeconds != catalyst.Never {
		t.Errorf("spark cut under load: %+v, want never", a)
	}
	if a, _ := b.Before(noon, catalyst.Condition{Load: catalyst.Idle, NoFuel: []engine.Cylinder{1}}); a.Seconds != 30 {
		t.Errorf("injector cut: %+v, want 30 s", a)
	}
	b.Set(noon, catalyst.Condition{Load: catalyst.Road, NoSpark: []engine.Cylinder{1}})
	if s := b.During(after(0.5)); !s.Stop {
		t.Errorf("spark cut under load goes on: %+v", s)
	}
}

func TestDeadCylinderHeatsWithoutACutUntilItsFuelIsOff(t *testing.T) {
	b := open(t, "v6-142536", catalyst.Careful)
	dead := []engine.Cylinder{b.Layout.Banks()[0][0]}
	fault := catalyst.Condition{Load: catalyst.Idle, NoSpark: dead, Known: dead}
	b.Set(noon, fault)
	s := b.During(after(1))
	if s.HardLeft < 40 || s.HardLeft > 120 || s.Stop {
		t.Errorf("a dead cylinder at idle: %+v, want a minute or so", s)
	}
	if s := b.During(after(300)); !s.Stop {
		t.Errorf("five minutes on a dead cylinder: %+v, want stop", s)
	}
	fault.NoFuel = dead
	b.Set(after(10), fault)
	if s := b.During(after(300)); s.Stop || s.HardLeft != catalyst.Never {
		t.Errorf("with its injector unplugged: %+v, want no end", s)
	}
	if b.SparkSeconds != 0 {
		t.Errorf("the fault was booked as %g s of cut", b.SparkSeconds)
	}
}

func TestLedgerGoesOnAfterStorage(t *testing.T) {
	b := open(t, "v6-142536", catalyst.Careful)
	cut := catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{4}}
	b.Set(noon, cut)
	b.Set(after(3), catalyst.Condition{Load: catalyst.Idle})
	data, err := json.Marshal(b)
	if err != nil {
		t.Fatal(err)
	}
	var back catalyst.Ledger
	if err := json.Unmarshal(data, &back); err != nil || back.Check() != nil {
		t.Fatalf("%v, %v", err, back.Check())
	}
	if got, want := back.During(after(20)), b.During(after(20)); !reflect.DeepEqual(got, want) {
		t.Errorf("read back: %+v, want %+v", got, want)
	}
}

func TestRefusals(t *testing.T) {
	b := open(t, "i4", catalyst.Careful)
	for _, c := range []catalyst.Condition{{Load: "sideways"}, {Load: catalyst.Idle, NoSpark: []engine.Cylinder{5}}, {Load: catalyst.Idle, FlowGPS: math.NaN()}} {
		if b.Set(noon, c) == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
	if _, err := catalyst.New(mustParse("i4"), catalyst.Careful, []engine.Cylinder{1, 2}); err == nil {
		t.Error("two cylinders without a catalyst were accepted")
	}
}

// Whatever the order of calls, even with a clock that jumps back: heat is never
// negative or no number, and splitting a time changes nothing.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, _ := catalyst.New(mustParse("v6-142536"), catalyst.Careful)
		whole, _ := catalyst.New(mustParse("v6-142536"), catalyst.Careful)
		at := 0.0
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			c := catalyst.Condition{Load: rapid.SampledFrom([]catalyst.Load{catalyst.Stopped, catalyst.Idle, catalyst.Raised, catalyst.Road}).Draw(t, "load")}
			if rapid.Bool().Draw(t, "cut") {
				c.NoSpark = []engine.Cylinder{engine.Cylinder(rapid.IntRange(1, 6).Draw(t, "cylinder"))}
			}
			b.Set(after(at), c)
			whole.Set(after(at), c)
			step := rapid.Float64Range(-5, 60).Draw(t, "step")
			b.Set(after(at+step/3), c)
			at += step
		}
		got, want := b.During(after(at+100)).RiseK, whole.During(after(at+100)).RiseK
		for i := range got {
			if !(got[i] >= 0) || math.Abs(got[i]-want[i]) > 1e-6*(1+want[i]) {
				t.Fatalf("bank %d: %g K in pieces, %g K whole", i+1, got[i], want[i])
			}
		}
	})
}

func mustParse(text string) engine.Layout {
	l, err := engine.Parse(text)
	if err != nil {
		panic(err)
	}
	return l
}
