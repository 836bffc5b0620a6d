package main

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"

	"halforder/engine"
	"halforder/measure/cutout"
	"halforder/practice"
)

// practiceFaults are causes that show at a warm idle, with the state of the
// cylinder left to the truth.
var practiceFaults = []string{"coil-open@%d", "injector-dead@%d", "injector-clogged@%d:0.6", "coil-open@%d:1,random=0.5", "exhaust-valve-leak@%d:0.7"}

// practiceCase is a cut-out test on the practice engine: its truth is the mean
// work of each cylinder while nothing was cut, relative to the median.
func practiceCase(seed uint64, cylinders int) (cutout.Recording, []float64, error) {
	rng := rand.New(rand.NewPCG(seed, 0x9a))
	if cylinders == 0 {
		cylinders = 3 + rng.IntN(6)
	}
	l, err := engine.Parse(map[int]string{3: "i3", 4: "i4", 5: "i5", 6: "v6-142536", 7: "1-3-5-7-2-4-6", 8: "v8-18436572"}[cylinders])
	if err != nil {
		return cutout.Recording{}, nil, err
	}
	cfg := practice.Defaults(l)
	cfg.Seed, cfg.IdleRPM = seed, engine.RPM(680+150*rng.Float64())
	faults := []int{0, 1, 1, 1, 1, 1, 2, 2}[rng.IntN(8)]
	if cylinders == 3 {
		faults = min(faults, 1)
		cfg.IdleRPM = 1300
	}
	for _, i := range rng.Perm(cylinders)[:faults] {
		f, err := practice.ParseFault(fmt.Sprintf(practiceFaults[rng.IntN(len(practiceFaults))], i+1))
		if err != nil {
			return cutout.Recording{}, nil, err
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	script, marks := practiceScript(l, rng)
	rec, truth, err := practice.Run(cfg, script, practice.Sensors{Bus: &practice.BusSensor{PerSecond: 30, Names: []string{"rpm", "air_g_s", "advance_deg"}}})
	if err != nil {
		return cutout.Recording{}, nil, err
	}
	r := cutout.Recording{Layout: l, Marks: marks, Means: cutout.InjectorLive}
	air, spark := cutout.Effort{Name: "air", Unit: "g/s"}, cutout.Effort{Name: "timing", Unit: "deg"}
	for _, v := range rec.Bus {
		t := map[string]*cutout.Track{"rpm": &r.Speed, "air_g_s": &air.Track, "advance_deg": &spark.Track}[v.Name]
		t.T, t.Y = append(t.T, v.T), append(t.Y, v.Value)
	}
	r.Efforts = []cutout.Effort{air, spark}
	return r, workOf(l, truth, script), nil
}

// practiceScript cuts ABBA by injector, 3–5 s each, with a load now and then.
func practiceScript(l engine.Layout, rng *rand.Rand) (practice.Script, []cutout.Mark) {
	s := practice.Watch(0)
	var marks []cutout.Mark
	now := 8 + 3*rng.Float64()
	for _, u := range cutout.ABBA(cutout.Units(l, false)) {
		off, on := now, now+3+2*rng.Float64()
		s = s.Then(off, practice.Action(fmt.Sprintf("unplug injector %d", u[0])))
		s = s.Then(on, practice.Action(fmt.Sprintf("reconnect injector %d", u[0])))
		marks = append(marks, cutout.Mark{At: off - 0.3 - 0.8*rng.Float64(), Cylinders: u}, cutout.Mark{At: on - 0.3 - 0.8*rng.Float64(), On: true})
		now = on + 9 + 3*rng.Float64()
	}
	if rng.Float64() < 0.4 {
		at := 10 + rng.Float64()*(now-20)
		s = s.Then(at, "load 500").Then(at+15, "load 0")
	}
	s.Length = now
	slices.SortStableFunc(s.Steps, func(a, b practice.Step) int { return cmp.Compare(a.At, b.At) })
	return s, marks
}

// workOf is the strength of each cylinder, by number − 1: its mean work outside
// its own cuts above that of a cut cylinder, relative to the median one.
func workOf(l engine.Layout, truth practice.Truth, s practice.Script) []float64 {
	sum, n := make([]float64, l.N()), make([]float64, l.N())
	var cut, cuts float64
	off := map[engine.Cylinder]bool{}
	step := 0
	for _, f := range truth.Firings {
		for step < len(s.Steps) && s.Steps[step].At <= f.T {
			var verb, what string
			var c engine.Cylinder
			if k, _ := fmt.Sscan(string(s.Steps[step].Do), &verb, &what, &c); k == 3 {
				off[c] = verb == "unplug"
			}
			step++
		}
		if off[f.Cylinder] {
			cut, cuts = cut+f.WorkJ, cuts+1
			continue
		}
		sum[f.Cylinder-1] += f.WorkJ
		n[f.Cylinder-1]++
	}
	out := make([]float64, l.N())
	for i := range out {
		out[i] = sum[i]/max(n[i], 1) - cut/max(cuts, 1)
	}
	ranked := slices.Clone(out)
	slices.Sort(ranked)
	for i, healthy := range out {
		out[i] = healthy / ranked[len(ranked)/2]
	}
	return out
}
