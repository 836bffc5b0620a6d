// Command crankscore measures how well the crank analysis finds misses on the
// practice engine: every layout, wheel and speed, healthy, with random misses
// and with a dead cylinder.
//
//	go run ./tools/crankscore -seconds 40
package main

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/practice"
)

type wheel struct {
	name, spec string
	build      practice.Wheel
}

func wheels(spacing, runout, jitter float64) []wheel {
	of := func(teeth, missing int) practice.Wheel {
		return practice.Wheel{Teeth: teeth, Missing: missing, GapDeg: 84, SpacingDeg: spacing, JitterSeconds: jitter, RunoutDeg: runout}
	}
	marks := func(angles ...engine.CrankDeg) practice.Wheel {
		return practice.Wheel{Marks: angles, SpacingDeg: spacing, JitterSeconds: jitter, RunoutDeg: runout}
	}
	var two []engine.CrankDeg // 36 places, two missing, 17 marks, one missing, 16 marks
	for p := range 36 {
		if p != 16 && p != 34 && p != 35 {
			two = append(two, engine.CrankDeg(10*p)+4)
		}
	}
	return []wheel{
		{"60-2", "60-2", of(60, 2)}, {"36-1", "36-1", of(36, 1)}, {"36-2-1", "36-2-1", marks(two...)},
		{"24", "24", of(24, 0)}, {"6u", "6u", marks(4, 60, 131, 190, 242, 305)},
	}
}

type score struct {
	hit, missed, falseAlarm, good int
	named, unnamed, wrong, runs   int
	accused, blind                int // healthy: accused, cannot tell
	failed, stalled               int
}

func main() {
	seconds := flag.Float64("seconds", 30, "length of each recording")
	layouts := flag.String("layouts", "i3,i4,i5,i6,v8-18436572,v10,v12", "engine layouts")
	speeds := flag.String("speeds", "0,1500,3000,6000", "speeds in rpm, 0 for idle")
	only := flag.String("wheels", "", "wheels, all if empty")
	seeds := flag.Int("seeds", 1, "engines of each kind")
	spacing := flag.Float64("spacing", 0.03, "mark error, degrees")
	runout := flag.Float64("runout", 0.1, "once per turn error, degrees")
	jitter := flag.Float64("jitter", 0.5e-6, "edge jitter, seconds")
	brake := flag.Float64("brake", 0, "brake torque, N·m per cylinder")
	verbose := flag.Bool("v", false, "print each sentence")
	flag.Parse()
	fmt.Printf("%-14s %-7s %5s | %7s %7s | %-14s | %s\n", "layout", "wheel", "rpm", "found", "false", "dead named", "healthy accused/cannot tell")
	for _, name := range strings.Split(*layouts, ",") {
		for _, w := range wheels(*spacing, *runout, *jitter) {
			if *only != "" && !slices.Contains(strings.Split(*only, ","), w.name) {
				continue
			}
			for _, speed := range strings.Split(*speeds, ",") {
				var s score
				for seed := range *seeds {
					for _, fault := range []string{"", "coil-open@%d", "coil-open@%d,random=0.05"} {
						s.add(try{name, w, speed, *seconds, uint64(seed + 1), fault, *brake, *verbose})
					}
				}
				fmt.Printf("%-14s %-7s %5s | %6.1f%% %6.2f%% | %2d of %2d, wrong %d | %d/%d of %d", name, w.name, speed,
					percent(s.hit, s.hit+s.missed), percent(s.falseAlarm, s.good), s.named, s.named+s.unnamed, s.wrong, s.accused, s.blind, s.runs)
				if s.failed > 0 {
					fmt.Printf(" failed %d", s.failed)
				}
				if s.stalled > 0 {
					fmt.Printf(" stalled %d", s.stalled)
				}
				fmt.Println()
			}
		}
	}
}

func percent(a, b int) float64 { return 100 * float64(a) / float64(max(b, 1)) }

type try struct {
	layout  string
	wheel   wheel
	speed   string
	seconds float64
	seed    uint64
	fault   string
	brake   float64
	verbose bool
}

func (s *score) add(t try) {
	layout, err := engine.Parse(t.layout)
	check(err)
	bad := engine.Cylinder(1 + (int(t.seed)*7+3)%layout.N())
	rec, truth := t.drive(layout, bad)
	if len(rec.Crank) == 0 {
		s.stalled++
		return
	}
	camAt := 300.0
	setup := crank.Setup{Layout: layout, References: []crank.Reference{{Cylinder: layout.At(0), Deg: -camAt, Origin: crank.FromCam}}}
	setup.Wheel, err = crank.ParseWheel(t.wheel.spec)
	check(err)
	r, err := crank.Analyse(setup, crank.Recording{Crank: rec.Crank, Cam: rec.Cam})
	if err != nil {
		s.failed++
		fmt.Fprintf(os.Stderr, "%s %s %s: %v\n", t.layout, t.wheel.name, t.speed, err)
		return
	}
	if t.verbose {
		fmt.Printf("   %s: %s\n", strings.ReplaceAll(t.fault, "%d", fmt.Sprint(bad)), r.Finding.Sentence)
	}
	switch {
	case t.fault == "":
		s.runs++
		if r.Finding.Verdict == "misfire" {
			s.accused++
		} else if r.Finding.Verdict != "no misfire" {
			s.blind++
		}
	case !strings.Contains(t.fault, "random"):
		if t.verbose {
			fmt.Println("   truly missed:", trulyMissed(truth))
		}
		s.judge(r, bad, trulyMissed(truth))
		return
	}
	s.match(r, truth, layout)
}

// judge scores the naming of a dead cylinder. Others that the practice engine
// lets miss now and then beside it are no false accusation.
func (s *score) judge(r *crank.Result, bad engine.Cylinder, truly map[engine.Cylinder]float64) {
	if slices.Equal(r.Dead(), []engine.Cylinder{bad}) {
		s.named++
	} else {
		s.unnamed++
	}
	for _, c := range append(r.Dead(), r.Missing()...) {
		if truly[c] < 0.3 {
			s.wrong++
		}
	}
}

// trulyMissed is the share of misses of each cylinder that has any, percent.
func trulyMissed(truth practice.Truth) map[engine.Cylinder]float64 {
	fired, missed := map[engine.Cylinder]int{}, map[engine.Cylinder]int{}
	for _, f := range truth.Firings {
		fired[f.Cylinder]++
		if f.Missed {
			missed[f.Cylinder]++
		}
	}
	out := map[engine.Cylinder]float64{}
	for c, n := range missed {
		out[c] = percent(n, fired[c])
	}
	return out
}

func check(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "crankscore:", err)
		os.Exit(1)
	}
}

func (t try) drive(layout engine.Layout, bad engine.Cylinder) (practice.Recording, practice.Truth) {
	cfg := practice.Defaults(layout)
	cfg.Seed = t.seed
	cfg.Wheel = t.wheel.build
	cfg.Cam = practice.CamWheel{Edges: []engine.CrankDeg{300}, JitterSeconds: 2e-6}
	if t.fault != "" {
		f, err := practice.ParseFault(fmt.Sprintf(t.fault, bad))
		check(err)
		cfg.Faults = []practice.Fault{f}
	}
	e, err := practice.New(cfg, practice.Sensors{Crank: true, Cam: true})
	if err != nil { // the engine does not run with that fault
		return practice.Recording{}, practice.Truth{}
	}
	if t.speed != "0" {
		check(e.Do(practice.Action("hold " + t.speed)))
	}
	if t.brake > 0 {
		check(e.Do(practice.Action(fmt.Sprintf("brake %g", t.brake*float64(layout.N())))))
	}
	e.RunUntil(6)
	e.Take()
	e.TakeTruth()
	e.RunUntil(6 + t.seconds)
	return e.Take(), e.TakeTruth()
}

// match compares each weighed firing with what really happened.
func (s *score) match(r *crank.Result, truth practice.Truth, layout engine.Layout) {
	f := truth.Firings
	sort.Slice(f, func(i, j int) bool { return f[i].T < f[j].T })
	for _, w := range r.Firings {
		c := layout.At(w.Position)
		i := sort.Search(len(f), func(i int) bool { return f[i].T >= w.Seconds-0.25*120/float64(w.RPM) })
		best, off := -1, 0.2*120/float64(w.RPM)
		for ; i < len(f) && f[i].T < w.Seconds+off; i++ {
			if d := f[i].T - w.Seconds; f[i].Cylinder == c && d < off && -d < off {
				best = i
			}
		}
		if best < 0 {
			continue
		}
		switch missed := f[best].Missed; {
		case missed && w.Miss:
			s.hit++
		case missed:
			s.missed++
		case w.Miss:
			s.falseAlarm++
			s.good++
		default:
			s.good++
		}
	}
}
