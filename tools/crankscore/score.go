package main

import (
	"fmt"
	"os"
	"slices"
	"sort"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/crank"
)

// score counts what came of the trials of one cell of the table.
type score struct {
	hit, missed, falseAlarm, good int
	named, unnamed, wrong         int
	runs, accused, blind          int // healthy ones: accused, cannot tell
	failed, stalled, denied       int // denied: called sound though it missed
	bounds                        []float64
}

// fired is what really happened at one firing.
type fired struct {
	at       float64 // seconds
	cylinder engine.Cylinder
	missed   bool
}

// driver runs an engine; without edges it stalled. The reference cylinder fires
// topAfterCam degrees after the cam edge.
type driver func(trial) (rec crank.Recording, topAfterCam float64, truth []fired)

func (s *score) add(t trial) {
	rec, top, truth := t.drive(t)
	if len(rec.Crank) == 0 {
		s.stalled++
		return
	}
	setup := crank.Setup{Layout: t.layout, References: []crank.Reference{{Cylinder: t.layout.At(0), Deg: top, Origin: crank.FromCam}}}
	var err error
	setup.Wheel, err = crank.ParseWheel(t.wheel.spec)
	check(err)
	r, err := crank.Analyse(setup, rec)
	if err != nil {
		s.failed++
		fmt.Fprintf(os.Stderr, "%s %s %.0f rpm seed %d: %v\n", t.layout, t.wheel.name, t.rpm, t.seed, err)
		return
	}
	if t.verbose {
		fmt.Printf("   seed %d kind %d cylinder %d: dead %v, missing %v. %s\n", t.seed, t.kind, t.bad(), r.Dead(), r.Missing(), r.Finding.Sentence)
	}
	if t.kind != healthy && r.Finding.Verdict == finding.NoMisfire && misses(truth) > 0 {
		s.denied++
	}
	switch t.kind {
	case healthy:
		s.sound(r)
	case dead:
		s.judge(r, t.bad(), missShares(truth))
		return
	}
	s.wrong += wronged(r, missShares(truth))
	s.match(r, truth, t.layout)
}

func (s *score) sound(r *crank.Result) {
	s.runs++
	switch r.Finding.Verdict {
	case "misfire":
		s.accused++
	case "no misfire":
	default:
		s.blind++
	}
}

// judge scores the naming of a dead cylinder. Others that the engine lets miss
// now and then beside it are no false accusation.
func (s *score) judge(r *crank.Result, bad engine.Cylinder, truly map[engine.Cylinder]float64) {
	if slices.Equal(r.Dead(), []engine.Cylinder{bad}) {
		s.named++
	} else {
		s.unnamed++
	}
	s.wrong += wronged(r, truly)
}

// wronged counts the cylinders accused that hardly ever missed.
func wronged(r *crank.Result, truly map[engine.Cylinder]float64) (n int) {
	for _, c := range append(r.Dead(), r.Missing()...) {
		if truly[c] < 0.003 {
			n++
		}
	}
	return n
}

func misses(truth []fired) (n int) {
	for _, f := range truth {
		n += count(f.missed)
	}
	return n
}

// missShares is how often each cylinder missed.
func missShares(truth []fired) map[engine.Cylinder]float64 {
	all, missed := map[engine.Cylinder]float64{}, map[engine.Cylinder]float64{}
	for _, f := range truth {
		all[f.cylinder]++
		if f.missed {
			missed[f.cylinder]++
		}
	}
	for c := range missed {
		missed[c] /= all[c]
	}
	return missed
}

// match compares each weighed firing with what really happened.
func (s *score) match(r *crank.Result, truth []fired, layout engine.Layout) {
	sort.Slice(truth, func(i, j int) bool { return truth[i].at < truth[j].at })
	for _, w := range r.Firings {
		i := nearest(truth, layout.At(w.Position), w.Seconds, 0.2*120/float64(w.RPM))
		if i < 0 {
			continue
		}
		switch missed := truth[i].missed; {
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

// nearest is the firing of a cylinder within reach of a moment, −1 if none.
func nearest(truth []fired, c engine.Cylinder, at, reach float64) int {
	i := sort.Search(len(truth), func(i int) bool { return truth[i].at >= at-reach })
	best, off := -1, reach
	for ; i < len(truth) && truth[i].at < at+reach; i++ {
		d := truth[i].at - at
		if d < 0 {
			d = -d
		}
		if truth[i].cylinder == c && d < off {
			best, off = i, d
		}
	}
	return best
}
