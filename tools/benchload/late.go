package main

import (
	"fmt"
	"sort"
	"time"
)

// allowed is how late the tablet may be, in seconds.
const allowed = 0.3

// lateness is how long after a piece of sound was recorded the tablet showed
// it, in seconds.
type lateness struct {
	down     outage
	levels   []float64
	meters   []float64
	waits    []float64   // from a piece to the first meter that heard it
	caughtUp float64     // worst of what was recorded while the server was dead
	waiting  []time.Time // when pieces were recorded that no meter has heard yet
}

// outage is when the server was dead. What was recorded then, and on its edges,
// cannot be shown at once and is counted apart.
type outage struct{ from, to time.Time }

const outageEdge = 200 * time.Millisecond

func (o outage) holds(t time.Time) bool {
	return !t.Before(o.from.Add(-outageEdge)) && t.Before(o.to.Add(outageEdge))
}

func (l *lateness) note(kind string, made, now time.Time) {
	late := now.Sub(made).Seconds()
	switch {
	case l.down.holds(made):
		l.caughtUp = max(l.caughtUp, now.Sub(l.down.to).Seconds())
		return
	case kind == "level":
		l.levels = append(l.levels, late)
		return
	}
	l.meters = append(l.meters, late)
	for len(l.waiting) > 0 && !l.waiting[0].After(made) {
		if !l.down.holds(l.waiting[0]) {
			l.waits = append(l.waits, now.Sub(l.waiting[0]).Seconds())
		}
		l.waiting = l.waiting[1:]
	}
}

func (l *lateness) add(other lateness) {
	l.levels, l.meters, l.waits = append(l.levels, other.levels...), append(l.meters, other.meters...), append(l.waits, other.waits...)
	l.caughtUp = max(l.caughtUp, other.caughtUp)
}

func (l *lateness) print(killed bool) {
	fmt.Printf("level on the tablet after its piece was recorded:  %s\n", quantiles(l.levels))
	fmt.Printf("speed and roughness after the newest piece heard:  %s\n", quantiles(l.meters))
	fmt.Printf("each piece until speed and roughness include it:   %s\n", quantiles(l.waits))
	if killed {
		fmt.Printf("after the killed server came back, all that was recorded meanwhile was shown within %.0f ms\n", 1000*l.caughtUp)
	}
}

// timely reports whether 99 of 100 events came in the time allowed.
func (l *lateness) timely() bool {
	return quantile(l.levels, 0.99) <= allowed && quantile(l.meters, 0.99) <= allowed
}

// quantile of values, which it sorts; 0 of none.
func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sort.Float64s(x)
	return x[min(len(x)-1, int(q*float64(len(x))))]
}

func quantiles(x []float64) string {
	over := 0
	for _, v := range x {
		if v > allowed {
			over++
		}
	}
	at := func(q float64) float64 { return 1000 * quantile(x, q) }
	return fmt.Sprintf("median %.0f ms, 95 %% %.0f ms, 99 %% %.0f ms, worst %.0f ms; %d of %d over %.0f ms", at(0.5), at(0.95), at(0.99), at(1), over, len(x), 1000*allowed)
}
