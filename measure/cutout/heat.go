package cutout

import (
	"time"

	"halforder/measure/catalyst"
)

// aboveIdle is the speed from which a test counts as run at raised speed, rpm
// (judgement: between an idle and the 1,200 rpm that small engines are held at).
const aboveIdle = 1100

// Heat is what the recorded test did to the catalysts, for the books: as if the
// recording had ended at the given moment and the engine been switched off then.
// Nothing is known of the time before, so the least cooling is credited. A dead
// cylinder counts as one whose fuel burns in the catalyst all along: whether its
// injector is the cause is not known.
func (r Result) Heat(end time.Time, means Means) []catalyst.Step {
	if len(r.line.T) == 0 {
		return nil
	}
	last := r.line.T[len(r.line.T)-1]
	at := func(t float64) time.Time {
		return end.Add(-time.Duration(max(last-t, 0) * float64(time.Second)))
	}
	b := Budget{Means: means, Load: catalyst.Idle, Dead: r.by(Dead)}
	if r.IdleRPM > aboveIdle {
		b.Load = catalyst.Raised
	}
	steps := []catalyst.Step{{At: at(r.line.T[0]), Condition: b.condition(nil)}}
	for _, c := range r.Cuts {
		if len(c.Cylinders) == 0 {
			continue // whose fuel it was nobody said
		}
		off := at(c.Start)
		if before := steps[len(steps)-1].At; off.Before(before) {
			off = before
		}
		on := at(c.End)
		if on.Before(off) {
			on = off
		}
		steps = append(steps, catalyst.Step{At: off, Condition: b.condition(c.Cylinders)}, catalyst.Step{At: on, Condition: b.condition(nil)})
	}
	return append(steps, catalyst.Step{At: end, Condition: catalyst.Condition{Load: catalyst.Stopped}})
}
