package main

import (
	"fmt"
	"math/rand/v2"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/measure/cutout"
	"halforder/practice"
	"halforder/signal"
)

// ears say what of a practice engine is recorded, and how it is read: sound and
// motion with the idle speed typed in.
type ears struct {
	sensors practice.Sensors
	read    func(practice.Recording, engine.Layout, engine.RPM) (cutout.Recording, error)
}

var (
	busNames    = []string{"rpm", "air_g_s", "advance_deg"}
	busSpeed    = ears{practice.Sensors{Bus: &practice.BusSensor{PerSecond: 10, Names: busNames[:1]}}, readBus}
	busAll      = ears{practice.Sensors{Bus: &practice.BusSensor{PerSecond: 30, Names: busNames}}, readBus}
	crankMarks  = ears{practice.Sensors{Crank: true}, readCrank}
	sound       = ears{practice.Sensors{Sound: &practice.SoundSensor{Hz: soundHz}}, readSound}
	motion      = ears{practice.Sensors{Phone: &practice.PhoneSensor{Hz: 100}}, readMotion}
	soundAndBus = ears{practice.Sensors{Sound: &practice.SoundSensor{Hz: soundHz}, Bus: busAll.sensors.Bus}, readBoth}
)

const soundHz = 8000

func practised(name string, e ears) row {
	return row{name: name, draw: func(seed uint64, cylinders int) (example, error) { return practiceCase(seed, cylinders, e) }}
}

func readBus(rec practice.Recording, l engine.Layout, _ engine.RPM) (cutout.Recording, error) {
	r := cutout.Recording{Layout: l}
	air, spark := cutout.Effort{Name: "air", Unit: "g/s"}, cutout.Effort{Name: "timing", Unit: "deg"}
	for _, v := range rec.Bus {
		t := map[string]*cutout.Track{"rpm": &r.Speed, "air_g_s": &air.Track, "advance_deg": &spark.Track}[v.Name]
		t.T, t.Y = append(t.T, v.T), append(t.Y, v.Value)
	}
	if len(air.T) > 0 {
		r.Efforts = []cutout.Effort{air, spark}
	}
	return r, nil
}

func readCrank(rec practice.Recording, l engine.Layout, _ engine.RPM) (cutout.Recording, error) {
	return cutout.FromCrank(crank.Setup{Layout: l}, crank.Recording{Crank: rec.Crank})
}

func readSound(rec practice.Recording, l engine.Layout, idle engine.RPM) (cutout.Recording, error) {
	return cutout.FromSound(signal.FromMemory(rec.Sound.X), soundHz, l, idle)
}

func readMotion(rec practice.Recording, l engine.Layout, idle engine.RPM) (cutout.Recording, error) {
	var axes [3]cutout.Track
	for _, s := range rec.Phone {
		for i, v := range []float64{s.X, s.Y, s.Z} {
			axes[i].T, axes[i].Y = append(axes[i].T, s.T), append(axes[i].Y, v)
		}
	}
	return cutout.FromMotion(axes, l, idle)
}

// readBoth takes speed and effort from the bus and roughness from the sound.
func readBoth(rec practice.Recording, l engine.Layout, idle engine.RPM) (cutout.Recording, error) {
	heard, err := readSound(rec, l, idle)
	if err != nil {
		return heard, err
	}
	r, err := readBus(rec, l, idle)
	r.Rough = heard.Rough
	return r, err
}

// practiceFaults are causes that show at a warm idle, with the state of the
// cylinder left to the truth.
var practiceFaults = []string{"coil-open@%d", "injector-dead@%d", "injector-clogged@%d:0.6", "coil-open@%d:1,random=0.5", "exhaust-valve-leak@%d:0.7"}

var practiceLayouts = map[int]string{3: "i3", 4: "i4", 5: "i5", 6: "v6-142536", 7: "1-3-5-7-2-4-6", 8: "v8-18436572"}

// practiceCase is a cut-out test on the practice engine: its truth is the mean
// work of each cylinder while nothing was cut, relative to the median.
func practiceCase(seed uint64, cylinders int, e ears) (example, error) {
	rng := rand.New(rand.NewPCG(seed, 0x9a))
	if cylinders == 0 {
		cylinders = 3 + rng.IntN(6)
	}
	l, err := engine.Parse(practiceLayouts[cylinders])
	if err != nil {
		return example{}, err
	}
	cfg := practice.Defaults(l)
	cfg.Seed, cfg.IdleRPM = seed, engine.RPM(680+150*rng.Float64())
	faults := []int{0, 1, 1, 1, 1, 1, 2, 2}[rng.IntN(8)]
	if cylinders == 3 {
		faults = min(faults, 1)
	}
	if 2*(cylinders-faults-1) < cylinders {
		cfg.IdleRPM = 1300 // as the tool says: at idle it would stop
	}
	for _, i := range rng.Perm(cylinders)[:faults] {
		f, err := practice.ParseFault(fmt.Sprintf(practiceFaults[rng.IntN(len(practiceFaults))], i+1))
		if err != nil {
			return example{}, err
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	d, err := newDriver(cfg, e.sensors)
	if err != nil {
		return example{}, err
	}
	if err := d.test(rng); err != nil {
		return example{}, err
	}
	r, err := e.read(d.engine.Take(), l, cfg.IdleRPM)
	r.Marks, r.Means = d.marks, cutout.InjectorLive
	return example{seed, r, workOf(l, d.engine.TakeTruth(), d.cuts), d.cuts}, err
}
