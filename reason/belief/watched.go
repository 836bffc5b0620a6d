package belief

import (
	"fmt"
	"math"

	"halforder/reason/fault"
)

// Watched says that the engine was watched for a stretch, as after a repair, and
// whether the trouble of the complaint came. What shakes without a misfire, and
// a signal that counts misses where there are none, come all the time.
type Watched struct {
	Seconds float64 `json:"seconds"`
	Came    bool    `json:"came"`
}

// watchSight is a stretch of watching. Only how often each fault shows itself
// matters, not where.
type watchSight struct {
	m          *model
	watched    *Watched
	touched    []mask
	quiet      bool // what was no misfire has been mended
	regime     fault.Regime
	missed     float64 // chance to overlook what came
	falseAlarm float64
}

func newWatchSight(m *model, e *Evidence, touched []mask) (*watchSight, error) {
	w := e.Watched
	if !(w.Seconds >= 0) || math.IsInf(w.Seconds, 1) {
		return nil, fmt.Errorf("watched for %g s: a time of 0 or more is needed", w.Seconds)
	}
	return &watchSight{m: m, watched: w, touched: touched, quiet: m.none.mendedBy(e.Mended), regime: e.regime(),
		missed: m.cat.Setting("watch-missed"), falseAlarm: m.cat.Setting("watch-false")}, nil
}

func (s *watchSight) effectOf(i int) effect {
	comes := effect{states: fault.States{0, 1, 0}, touched: elsewhere}
	switch {
	case i == noFault && s.quiet, i != noFault && s.touched[i] == 0:
		return effect{states: fault.States{1, 0, 0}}
	case i == noFault, s.m.faults[i].severity == fault.SevQuiet:
		return comes
	}
	b := s.m.states(&s.m.faults[i], s.regime, s.touched[i])
	works := b.States[fault.Works]
	return effect{states: fault.States{works, 1 - works, 0}, touched: elsewhere, between: b.Between}
}

func (s *watchSight) logLik(effects []effect) float64 {
	rests := 1.0
	for i := range effects {
		if e := &effects[i]; e.touched != 0 {
			rests *= s.rests(e)
		}
	}
	p := (1-rests)*(1-s.missed) + rests*s.falseAlarm
	if !s.watched.Came {
		p = 1 - p
	}
	return math.Log(p)
}

// rests is the chance that a fault never shows itself in the time watched.
func (s *watchSight) rests(e *effect) float64 {
	p := e.states[fault.Works]
	if e.between > 0 {
		p *= math.Exp(-s.watched.Seconds / e.between)
	}
	return p
}
