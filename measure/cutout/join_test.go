package cutout_test

import (
	"math"
	"slices"
	"testing"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/practice"
	"halforder/signal"
	"halforder/tools/idlesim"
)

// sampled is one source of a simulated test: its own rate, noise and clock,
// started late.
func sampled(c idlesim.Case, rate, noise, late float64, seed uint64) cutout.Recording {
	r := cutout.Recording{Layout: c.Car.Layout}
	r.Speed.T, r.Speed.Y = c.Trace.Sample(idlesim.RPM, rate, noise, 0, seed)
	for i := range r.Speed.T {
		r.Speed.T[i] -= late
	}
	return r
}

// A recorder started later or earlier is laid onto the clock of the first, to a
// tenth of a second; one started at once keeps its clock.
func TestClocksAreLaidTogether(t *testing.T) {
	c := idlesim.Random(31, idlesim.Options{Cylinders: 4, Faults: 1, Marked: true, Rate: 10})
	first := sampled(c, 10, 3, 0, 1)
	for _, late := range []float64{0, 3.72, -12.35, 41} {
		_, got, err := cutout.Join(first, sampled(c, 25, 5, late, 2))
		if err != nil {
			t.Fatalf("%g s late: %v", late, err)
		}
		if math.Abs(got-late) > 0.1 {
			t.Errorf("a source %g s late is taken to be %.2f s late", late, got)
		}
		if late == 0 && got != 0 {
			t.Errorf("clocks that agree are moved by %g s", got)
		}
	}
}

// The time of day on one side and seconds since the start on the other.
func TestClocksOfTwoKinds(t *testing.T) {
	c := idlesim.Random(33, idlesim.Options{Cylinders: 6, Faults: 1, Marked: true, Rate: 10})
	const day = 52431.6
	_, got, err := cutout.Join(sampled(c, 10, 3, 0, 1), sampled(c, 10, 3, -day, 2))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got+day) > 0.1 {
		t.Errorf("the clocks are taken to lie %.2f s apart, want %.2f", got, -day)
	}
}

// Of two tracks the noisier counts less, so that the mean is better than either.
func TestJoinedSpeedIsBetterThanEither(t *testing.T) {
	c := idlesim.Random(35, idlesim.Options{Cylinders: 4, Faults: 1, Marked: true, Rate: 10})
	truth := sampled(c, 10, 0, 0, 1).Speed
	far := func(x cutout.Track) float64 {
		var sum float64
		for i := range x.T {
			d := x.Y[i] - truth.Y[i]
			sum += d * d
		}
		return math.Sqrt(sum / float64(len(x.T)))
	}
	for _, noise := range [][2]float64{{4, 4}, {3, 12}, {12, 3}} {
		a, b := sampled(c, 10, noise[0], 0, 2), sampled(c, 10, noise[1], 0, 3)
		j, _, err := cutout.Join(a, b)
		if err != nil {
			t.Fatal(err)
		}
		if got, best := far(j.Speed), min(far(a.Speed), far(b.Speed)); got >= best {
			t.Errorf("noise %v rpm: the mean is off by %.2f rpm, the better of the two by %.2f", noise, got, best)
		}
	}
}

func TestTwoEnginesAreNotJoined(t *testing.T) {
	one := sampled(idlesim.Random(31, idlesim.Options{Cylinders: 4, Faults: 1, Marked: true, Rate: 10}), 10, 3, 0, 1)
	other := sampled(idlesim.Random(32, idlesim.Options{Cylinders: 4, Faults: 1, Marked: true, Rate: 10}), 10, 3, 0, 1)
	if _, late, err := cutout.Join(one, other); err == nil {
		t.Errorf("two engines were joined, %.1f s apart", late)
	}
}

// A table of ages or of a few lines is refused, not tried for hours.
func TestJoinRefusesWhatIsNoTest(t *testing.T) {
	one := sampled(idlesim.Random(31, idlesim.Options{Cylinders: 4, Faults: 1, Marked: true, Rate: 10}), 10, 3, 0, 1)
	for name, speed := range map[string]cutout.Track{
		"ages":      {T: []float64{0, 1e10}, Y: []float64{750, 760}},
		"one value": {T: []float64{0}, Y: []float64{750}},
		"nothing":   {},
	} {
		if _, _, err := cutout.Join(one, cutout.Recording{Layout: one.Layout, Speed: speed}); err == nil {
			t.Errorf("%s: joined", name)
		}
	}
}

// Sound, and speed from the bus of a recorder started 4.3 s later.
func TestSoundAndBusOfThePracticeEngineJoined(t *testing.T) {
	order := []engine.Cylinder{1, 2, 3, 4, 2}
	rec, marks := practised(t, "i4", "coil-open@2", order, practice.Sensors{
		Sound: &practice.SoundSensor{Hz: 8000},
		Bus:   &practice.BusSensor{PerSecond: 10, Names: []string{"rpm"}},
	})
	heard, err := cutout.FromSound(signal.FromMemory(rec.Sound.X), 8000, layout(t, "i4"), 0)
	if err != nil {
		t.Fatal(err)
	}
	bus := cutout.Recording{Layout: heard.Layout}
	for _, v := range rec.Bus {
		if v.T >= 4.3 {
			bus.Speed.T, bus.Speed.Y = append(bus.Speed.T, v.T-4.3), append(bus.Speed.Y, v.Value)
		}
	}
	j, late, err := cutout.Join(heard, bus)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(late-4.3) > 0.3 { // the bus tells the speed a little late
		t.Errorf("the bus is taken to be %.2f s late, want 4.3", late)
	}
	j.Marks = marks
	got, err := cutout.Analyse(j)
	if err != nil {
		t.Fatal(err)
	}
	onlyDead(t, "sound and bus", got, 2)
	checkTimes(t, "sound and bus", got, order, 2, 0.5)
	if !slices.IsSorted(j.Speed.T) {
		t.Error("time runs backwards")
	}
}
