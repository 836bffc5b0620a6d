package catalyst

import (
	"fmt"
	"math"
	"time"
)

// Allowance is what a cut may do if it begins now.
type Allowance struct {
	Seconds     float64 `json:"seconds"`      // wanted length at most; 0: not allowed
	HardSeconds float64 `json:"hard_seconds"` // must be over by then
	WaitSeconds float64 `json:"wait_seconds"` // until a cut of the wanted length is allowed; +Inf is written as −1: never on this visit
	Why         string  `json:"why"`          // what limits it, one sentence
}

// Never is WaitSeconds when waiting does not help.
const Never = -1.0

// Before says how long condition c may last if it begins at the moment at.
// Nothing is booked.
func (b *Ledger) Before(at time.Time, c Condition) (Allowance, error) {
	if err := c.check(b.Layout); err != nil {
		return Allowance{}, err
	}
	then := b.copyAt(at)
	s := b.Setting
	switch c.cut() {
	case noCut:
		heat, bank := then.secondsToLimit(c)
		return Allowance{Seconds: finite(heat), HardSeconds: finite(heat), Why: whyHeat(heat, bank)}, nil
	case injectorCut:
		heat, bank := then.secondsToLimit(c)
		hard := math.Min(s.InjectorHard, heat)
		return then.explain(c, Allowance{Seconds: hard, HardSeconds: hard}, heat < s.InjectorHard, bank), nil
	}
	return then.beforeSpark(c), nil
}

// beforeSpark judges a spark cut: load, total, pause, heat.
func (b *Ledger) beforeSpark(c Condition) Allowance {
	s := b.Setting
	if c.Load == Road && !s.SparkLoaded {
		return Allowance{WaitSeconds: Never, Why: "No spark cut under load: unburnt fuel at that gas flow overheats a catalyst within seconds."}
	}
	left := s.SparkTotal - b.SparkSeconds
	if left < 1 {
		return Allowance{WaitSeconds: Never, Why: fmt.Sprintf("All %.0f s of spark cut for this visit are used: cut the injector, or go on another day.", s.SparkTotal)}
	}
	if pause := b.pauseLeft(); pause > 0 {
		return Allowance{WaitSeconds: pause, Why: fmt.Sprintf("Run on all cylinders for another %.0f s between spark cuts.", math.Ceil(pause))}
	}
	heat, bank := b.secondsToLimit(c)
	a := Allowance{Seconds: min(s.SparkSeconds, left, heat), HardSeconds: min(s.SparkHard, left, heat)}
	return b.explain(c, a, heat < s.SparkSeconds, bank)
}

func (b *Ledger) explain(c Condition, a Allowance, hot bool, bank int) Allowance {
	switch {
	case hot && a.Seconds < 1:
		a.Seconds, a.HardSeconds = 0, 0
		a.WaitSeconds = b.coolingWait(c)
		a.Why = fmt.Sprintf("The catalyst of bank %d is too hot for another cut by the model.", bank+1)
	case hot:
		a.Why = fmt.Sprintf("Limited by the heat of the catalyst of bank %d.", bank+1)
	case c.cut() == injectorCut:
		a.Why = "Injector cut: hardly any fuel reaches the catalyst."
	default:
		a.Why = fmt.Sprintf("%.0f of %.0f s of spark cut used on this visit.", b.SparkSeconds, b.Setting.SparkTotal)
	}
	return a
}

// coolingWait is how long to run without the cut until it is allowed for a
// second or more, in steps of 5 s, Never after 15 minutes.
func (b *Ledger) coolingWait(c Condition) float64 {
	free := c
	free.NoSpark, free.NoFuel = c.Known, nil
	for wait := 5.0; wait <= 900; wait += 5 {
		cool := b.Copy()
		for i := range cool.Banks {
			cool.Banks[i].RiseK = b.riseAfter(i, free, wait)
		}
		if t, _ := cool.secondsToLimit(c); t >= min(b.Setting.SparkSeconds, 3) {
			return wait
		}
	}
	return Never
}

// Standing is how things are at a moment.
type Standing struct {
	Stop         bool      `json:"stop"`            // end the cut, or the engine, now
	Left         float64   `json:"left_s"`          // wanted seconds left of the running cut; without one, until the heat limit (Never: no end)
	HardLeft     float64   `json:"hard_left_s"`     // seconds to the hard stop; Never: no end
	SparkLeft    float64   `json:"spark_left_s"`    // of this visit's spark-cut seconds
	RecoveryLeft float64   `json:"recovery_left_s"` // until the next spark cut is allowed
	RiseK        []float64 `json:"rise_k"`          // by catalyst, as the setting counts
	Why          string    `json:"why"`
}

// During is the standing at a moment, under the condition last set. Nothing is
// booked.
func (b *Ledger) During(at time.Time) Standing {
	now := b.copyAt(at)
	s := now.Setting
	heat, bank := now.secondsToLimit(now.Now)
	out := Standing{SparkLeft: max(s.SparkTotal-now.SparkSeconds, 0), RecoveryLeft: now.pauseLeft(), Left: finite(heat), HardLeft: finite(heat), Why: whyHeat(heat, bank)}
	for _, bank := range now.Banks {
		out.RiseK = append(out.RiseK, bank.RiseK)
	}
	if kind := now.Now.cut(); kind != noCut {
		wanted, hard := s.SparkSeconds, s.SparkHard
		if kind == injectorCut {
			wanted, hard = s.InjectorHard, s.InjectorHard
		}
		out.RecoveryLeft = 0
		now.limitCut(&out, wanted, hard, heat)
	}
	out.Stop = now.Now.Load != Stopped && out.HardLeft == 0
	return out
}

// limitCut puts the limits of the running cut into out.
func (b *Ledger) limitCut(out *Standing, wanted, hard, heat float64) {
	ran := b.At.Sub(b.CutBegan).Seconds()
	limits := []float64{hard - ran, heat}
	why := []string{fmt.Sprintf("%.0f s of cut are the hard stop.", hard), "The catalyst is at its heat limit by the model."}
	if b.Now.cut() == sparkCut {
		limits, why = append(limits, b.Setting.SparkTotal-b.SparkSeconds), append(why, "The spark-cut seconds of this visit are used up.")
		if b.Now.Load == Road && !b.Setting.SparkLoaded {
			limits, why = append(limits, 0), append(why, "No spark cut under load.")
		}
	}
	worst := 0
	for i, l := range limits {
		if l < limits[worst] {
			worst = i
		}
	}
	out.HardLeft, out.Why = max(limits[worst], 0), why[worst]
	out.Left = max(min(wanted-ran, out.HardLeft), 0)
}

// copyAt is the ledger advanced to at, with the original untouched.
func (b *Ledger) copyAt(at time.Time) *Ledger {
	c := b.Copy()
	c.advance(at)
	return c
}

func (b *Ledger) pauseLeft() float64 {
	if b.CutEnded.IsZero() || b.Now.cut() == sparkCut {
		return 0
	}
	return max(b.Setting.Recovery-b.At.Sub(b.CutEnded).Seconds(), 0)
}

// secondsToLimit is the time until the first catalyst reaches the limit, and
// which one: +Inf when none ever does.
func (b *Ledger) secondsToLimit(c Condition) (seconds float64, bank int) {
	seconds = math.Inf(1)
	limit := b.Setting.limitK(c.Load)
	for i := range b.Banks {
		t := math.Inf(1)
		if flow := b.flow(i, c); flow > 0 {
			t = b.model(i).SecondsTo(limit, b.Banks[i].RiseK, b.unburnt(i, c), flow)
		}
		if t == 0 && b.model(i).Equilibrium(b.unburnt(i, c)) < limit {
			t = math.Inf(1) // above the limit but cooling: running on is right
		}
		if t < seconds {
			seconds, bank = t, i
		}
	}
	return seconds, bank
}

// finite writes +Inf as Never: JSON knows no infinity.
func finite(seconds float64) float64 {
	if math.IsInf(seconds, 1) {
		return Never
	}
	return seconds
}

func whyHeat(seconds float64, bank int) string {
	if math.IsInf(seconds, 1) {
		return "No heat limit in sight by the model."
	}
	return fmt.Sprintf("As it runs now, the catalyst of bank %d reaches its limit by the model: cut the fuel of the dead cylinder before running on.", bank+1)
}
