package practice

import (
	"fmt"
	"strings"
	"testing"

	"halforder/engine"
)

// exam is how one engine answers: at idle, held at 2500 rpm, at full load in
// third gear, and cranked with the throttle open.
type exam struct {
	idle, held, full            answer
	trimIdle, trimHeld          float64 // per cent
	peak                        [4]float64
	counted                     []int
	codes                       string
	mapIdle, mapHeld, mapHealth float64
}

// answer is the share of misses and the mean work of cylinder 3 and the rest.
type answer struct{ miss, missRest, work, workRest float64 }

func examine(t *testing.T, c Config) exam {
	t.Helper()
	c.Running, c.CoolantC = false, 85
	e, err := New(c, Sensors{})
	if err != nil {
		t.Fatal(err)
	}
	var x exam
	do(t, e, "start")
	e.RunUntil(25)
	x.idle, x.trimIdle, x.mapIdle = e.answerIn(15, 25), e.trimSum(), e.manifold.pressure/1000
	x.counted = copyOf(e.computer.monitor.total)
	do(t, e, "hold 2500")
	e.RunUntil(45)
	x.held, x.trimHeld, x.mapHeld = e.answerIn(38, 45), e.trimSum(), e.manifold.pressure/1000
	if e.omega > 100 {
		do(t, e, "gear 3", "pedal 100")
		e.RunUntil(49)
		x.full = e.answerIn(46, 49)
	}
	for _, code := range e.State().Codes {
		x.codes += code.Code + " "
	}
	x.peak = peaksOf(mustRun(t, c, "0 pedal 100\n0.5 crank 4\n5 end"))
	return x
}

func do(t testing.TB, e *Engine, actions ...Action) {
	t.Helper()
	for _, a := range actions {
		if err := e.Do(a); err != nil {
			t.Fatal(err)
		}
	}
}

func (e *Engine) trimSum() float64 {
	return 100 * (e.computer.trims[0].short + e.computer.trims[0].long)
}

func (e *Engine) answerIn(from, to float64) (a answer) {
	var n, rest float64
	for _, f := range e.truth.Firings {
		if f.T < from || f.T >= to {
			continue
		}
		missed := 0.0
		if f.Missed {
			missed = 1
		}
		if f.Cylinder == 3 {
			a.miss, a.work, n = a.miss+missed, a.work+f.WorkJ, n+1
		} else {
			a.missRest, a.workRest, rest = a.missRest+missed, a.workRest+f.WorkJ, rest+1
		}
	}
	return answer{a.miss / n, a.missRest / rest, a.work / n, a.workRest / rest}
}

// Each cause against how the trade says it answers (common practice, mostly
// without source): dead or weak and when, trims, compression.
func TestCausesAnswerAsTheTradeSays(t *testing.T) {
	type law struct {
		what string
		ok   func(x exam) bool
	}
	dead := law{"dead at idle", func(x exam) bool { return x.idle.miss > 0.95 && x.idle.work < 0 && x.idle.missRest < 0.05 }}
	weak := law{"weaker than the rest at idle", func(x exam) bool { return x.idle.work < 0.85*x.idle.workRest }}
	fineIdle := law{"fine at idle", func(x exam) bool { return x.idle.miss < 0.02 && x.idle.missRest < 0.02 }}
	missLoad := law{"misses at full load", func(x exam) bool { return x.full.miss > 0.3 && x.full.missRest < 0.05 }}
	fineLoad := law{"fine at full load", func(x exam) bool { return x.full.miss < 0.05 && x.full.work > 0.8*x.full.workRest }}
	lean := law{"trim high at idle", func(x exam) bool { return x.trimIdle > 8 }}
	rich := law{"trim low at idle", func(x exam) bool { return x.trimIdle < -4 }}
	level := law{"trim level", func(x exam) bool { return x.trimIdle > -6 && x.trimIdle < 6 }}
	fades := law{"trim fades at 2500", func(x exam) bool { return x.trimHeld < 0.5*x.trimIdle }}
	stays := law{"trim stays at 2500", func(x exam) bool { return x.trimHeld > 0.8*x.trimIdle }}
	tight := law{"compression even", func(x exam) bool { return x.peak[2] > 0.93*x.peak[0] }}
	low := law{"compression below 75 %", func(x exam) bool { return x.peak[2]-1 < 0.75*(x.peak[0]-1) }}
	random := law{"all cylinders miss now and then", func(x exam) bool { return x.idle.missRest > 0.005 && x.idle.missRest < 0.6 }}
	code := func(name string) law {
		return law{"code " + name, func(x exam) bool { return strings.Contains(x.codes, name) }}
	}
	table := []struct {
		fault string
		laws  []law
	}{
		{"coil-open@3", []law{dead, lean, tight, code("P0353"), code("P0303")}},
		{"coil-weak@3:0.9", []law{missLoad, tight}},
		{"coil-shorted@3", []law{dead, lean, tight}},
		{"plug-gap@3:1", []law{fineIdle, missLoad, level, tight}},
		{"plug-cracked@3:0.7", []law{weak, tight}},
		{"plug-fouled@3:1", []law{dead, tight}},
		{"plug-fouled@3:0.75", []law{missLoad, tight}},
		{"boot-leak@3:0.85", []law{fineIdle, missLoad, tight}},
		{"coil-wiring@3", []law{dead, lean, tight, code("P0353")}},
		{"coil-driver@3", []law{dead, lean, tight, code("P0353")}},
		{"injector-dead@3", []law{dead, lean, tight, code("P0203")}},
		{"injector-wiring@3", []law{dead, lean, tight, code("P0203")}},
		{"injector-clogged@3:0.5", []law{weak, lean, tight}},
		{"injector-leaking@3:0.5", []law{rich, fades2(), tight}},
		{"exhaust-valve-leak@3:0.6", []law{weak, low, level, law{"improves with speed", improves}}},
		{"intake-valve-leak@3:0.6", []law{weak, low, level}},
		{"ring-leak@3:0.8", []law{weak, low, level}},
		{"head-gasket@3:1", []law{weak, low, {"neighbour low too", func(x exam) bool { return x.peak[3]-1 < 0.85*(x.peak[0]-1) }}}},
		{"intake-valve-shut@3", []law{dead, low}},
		{"exhaust-valve-shut@3", []law{dead, {"compression looks normal or high", func(x exam) bool { return x.peak[2] > 0.9*x.peak[0] }}}},
		{"cam-timing@bank1:0.7", []law{fineIdle, {"compression low evenly", func(x exam) bool { return x.peak[0] < 0.88*healthyPeak(t) && x.peak[2] > 0.93*x.peak[0] }}, {"vacuum low", func(x exam) bool { return x.mapIdle > x.mapHealth+2 }}}},
		{"runner-leak@3:0.4", []law{weak, lean, fades, tight, fineLoad}},
		{"plenum-leak:0.5", []law{fineIdle, lean, fades, tight}},
		{"egr-open:1", []law{random, tight, fineLoad, {"vacuum low", func(x exam) bool { return x.mapIdle > x.mapHealth+4 }}}},
		{"purge-open:0.5", []law{rich, tight}},
		{"fuel-pressure:0.6", []law{lean, stays, tight}},
		{"fuel-supply:0.7", []law{fineIdle, level, {"all starve at full load", func(x exam) bool { return x.full.workRest < 430 }}, tight}},
		{"fuel-bad:0.8", []law{tight, {"all weak", func(x exam) bool { return x.full.workRest < 430 }}}},
		{"air-meter:0.8", []law{lean, stays, tight}},
		{"oxygen-sensor@bank1:0.7", []law{rich, tight}},
		{"exhaust-blocked@bank1:1", []law{fineIdle, tight, {"weak at load", func(x exam) bool { return x.full.workRest < 470 }}}},
		{"crank-signal:1", []law{fineIdle, level, tight, {"counts without misses", func(x exam) bool { return sum(x.counted) > 50 }}}},
		{"shake:1", []law{fineIdle, level, tight, {"no counts", func(x exam) bool { return sum(x.counted) < 3 }}}},
		{"valve-carbon@3:1", []law{fineLoad, {"compression slightly low at most", func(x exam) bool { return x.peak[2] > 0.85*x.peak[0] }}}}, // warm: see the cold test
	}
	healthy := examine(t, testConfig(t, "i4"))
	for _, row := range append(table, struct {
		fault string
		laws  []law
	}{"", []law{fineIdle, level, tight, {"no counts", func(x exam) bool { return sum(x.counted) == 0 && x.codes == "" }}}}) {
		var faults []string
		if row.fault != "" {
			faults = []string{row.fault}
		}
		x := examine(t, testConfig(t, "i4", faults...))
		x.mapHealth = healthy.mapIdle
		for _, l := range row.laws {
			if !l.ok(x) {
				t.Errorf("%s: not %q: %+v", row.fault, l.what, x)
			}
		}
	}
	if missing := untested(table2names(table)); len(missing) > 0 {
		t.Errorf("kinds without a row: %v", missing)
	}
}

// Every family of causes a shop meets that physics can express has a kind.
func TestEveryCauseHasAKind(t *testing.T) {
	have := map[string]bool{}
	for _, k := range Kinds() {
		have[k.Cause] = true
		if k.Source == "" || k.Title == "" || k.Severity == "" {
			t.Errorf("%s lacks title, severity or source", k.Name)
		}
	}
	for _, cause := range strings.Fields(`coil plug-worn plug-fouled boot coil-wiring coil-feed coil-driver injector-dead injector-clogged
		injector-leaking injector-wiring valve-leak rings head-gasket valve-gear cam-timing runner-leak plenum-leak egr-purge fuel-supply
		fuel-quality air-meter bank-sensor restriction intake-carbon false-signal not-misfire`) {
		if !have[cause] {
			t.Errorf("no kind for cause %s", cause)
		}
	}
}

func fades2() (l struct {
	what string
	ok   func(x exam) bool
}) {
	l.what, l.ok = "rich trim fades at 2500", func(x exam) bool { return x.trimHeld > 0.6*x.trimIdle }
	return l
}

func improves(x exam) bool { return x.held.work/x.held.workRest > x.idle.work/x.idle.workRest }

func healthyPeak(t *testing.T) float64 { return examine(t, testConfig(t, "i4")).peak[0] }

func table2names[T any](table []T) (out []string) {
	for _, row := range table {
		name, _, _ := strings.Cut(strings.TrimPrefix(fmt.Sprint(row), "{"), " ")
		name, _, _ = strings.Cut(name, "@")
		name, _, _ = strings.Cut(name, ":")
		out = append(out, name)
	}
	return out
}

func untested(names []string) (missing []string) {
	for _, k := range Kinds() {
		found := k.Name == "coil-feed" // tested with groups below
		for _, n := range names {
			found = found || n == k.Name
		}
		if !found {
			missing = append(missing, k.Name)
		}
	}
	return missing
}

// Cold only: carbon swallows the first injections and coolant wets the
// chamber; both clear as the engine warms.
func TestColdFaultsClear(t *testing.T) {
	for _, fault := range []string{"valve-carbon@3:1", "head-gasket@3:0.8", "plug-fouled@3:1,cold"} {
		c := testConfig(t, "i4", fault)
		c.Running, c.CoolantC, c.Air.TempC = false, 5, 5
		e, err := New(c, Sensors{})
		if err != nil {
			t.Fatal(err)
		}
		do(t, e, "start")
		e.RunUntil(20)
		cold := e.answerIn(3, 20)
		e.RunUntil(700)
		warm := e.answerIn(680, 700)
		if cold.work > 0.7*cold.workRest || warm.miss > 0.02 {
			t.Errorf("%s: cold work %.0f of %.0f J, warm misses %.0f %% at %.0f °C", fault, cold.work, cold.workRest, 100*warm.miss, e.heat.coolantC)
		}
	}
}

func TestGroupsAndTwoFaults(t *testing.T) {
	c := testConfig(t, "1-4-2-5-3-6,banks=1-2-3/4-5-6,feeds=1-2-3/4-5-6", "coil-feed@feed2:1,bursts=1/2", "injector-dead@1")
	truth := mustRun(t, c, "")
	miss := missShare(truth, 0, 12)
	for cyl, share := range miss {
		switch want := map[engine.Cylinder]string{1: "dead", 4: "bursts", 5: "bursts", 6: "bursts"}[cyl]; {
		case want == "dead" && share < 1, want == "bursts" && (share < 0.1 || share > 0.75), want == "" && share > 0.02:
			t.Errorf("cylinder %d misses %.0f %%, expected %q", cyl, 100*share, want)
		}
	}
}

func missShare(truth Truth, from, to float64) map[engine.Cylinder]float64 {
	n, missed := map[engine.Cylinder]float64{}, map[engine.Cylinder]float64{}
	for _, f := range truth.Firings {
		if f.T >= from && f.T < to {
			n[f.Cylinder]++
			if f.Missed {
				missed[f.Cylinder]++
			}
		}
	}
	for c := range n {
		missed[c] /= n[c]
	}
	return missed
}

func TestWastedSparkLosesThePair(t *testing.T) {
	c := testConfig(t, "i6", "coil-open@1")
	c.Ignition = WastedSpark
	miss := missShare(mustRun(t, c, ""), 0, 12)
	if miss[1] < 1 || miss[6] < 1 || miss[2]+miss[3]+miss[4]+miss[5] > 0.05 {
		t.Errorf("misses %v, expected 1 and 6 dead", miss)
	}
}

// A dead injector takes its partner on the driver down where the computer is so
// built, wherever the injector sits.
func TestDriverPairs(t *testing.T) {
	c := testConfig(t, "1-3-4-2,drivers=1-3/2-4", "injector-dead@1")
	c.Computer.DriverPairs = true
	if miss := missShare(mustRun(t, c, ""), 1, 12); miss[1] < 1 || miss[3] < 1 || miss[2]+miss[4] > 0.05 {
		t.Errorf("misses %v, expected 1 and 3 dead", miss)
	}
}

// Faults of parts travel with the part, faults of places stay.
func TestSwapRenewMend(t *testing.T) {
	dead := func(fault string, actions ...Action) map[engine.Cylinder]float64 {
		e, err := New(testConfig(t, "i4", fault), Sensors{})
		if err != nil {
			t.Fatal(err)
		}
		do(t, e, "stop")
		e.RunUntil(6)
		do(t, e, actions...)
		do(t, e, "start")
		e.RunUntil(20)
		return missShare(*e.truth, 10, 20)
	}
	for _, c := range []struct {
		fault  string
		action Action
		where  engine.Cylinder // 0: gone
	}{
		{"coil-open@3", "swap coil 3 1", 1}, {"coil-open@3", "swap plug 3 1", 3}, {"coil-open@3", "renew coil 3", 0}, {"coil-open@3", "renew coil all", 0},
		{"plug-fouled@2", "swap plug 2 4", 4}, {"injector-dead@1", "swap injector 1 2", 2}, {"boot-leak@4", "swap boot 4 1", 1}, {"boot-leak@4", "swap coil 4 1", 4},
		{"coil-wiring@3", "swap coil 3 1", 3}, {"coil-wiring@3", "renew coil 3", 3}, {"coil-wiring@3", "mend coil-wiring 3", 0}, {"coil-wiring@3", "mend coil-wiring 2", 3},
	} {
		miss := dead(c.fault, c.action)
		for _, cyl := range []engine.Cylinder{1, 2, 3, 4} {
			if is := miss[cyl] > 0.9; is != (cyl == c.where) {
				t.Errorf("%s after %q: cylinder %d misses %.0f %%, expected the miss at %d", c.fault, c.action, cyl, 100*miss[cyl], c.where)
			}
		}
	}
}
