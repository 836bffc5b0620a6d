package practice

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
)

// Wheel is the crank wheel and its sensor: evenly toothed with a gap, or with
// a few marks at chosen angles.
type Wheel struct {
	Teeth, Missing int               // 60 and 2 for the usual wheel; 0 when Marks are given
	Marks          []engine.CrankDeg // angles within one turn, ascending, instead of teeth
	GapDeg         engine.CrankDeg   // first tooth after the gap, after top dead centre of the first cylinder in the firing order
	SpacingDeg     float64           // manufacturing deviation of each mark, degrees; repeats every turn
	JitterSeconds  float64           // deviation of each edge time
	RunoutDeg      float64           // once-per-turn error of a wheel off centre, degrees
}

// CamWheel lists the cam edges over one cycle of 720 degrees after top dead
// centre of the first cylinder in the firing order.
type CamWheel struct {
	Edges         []engine.CrankDeg
	JitterSeconds float64
}

func (w Wheel) check() error {
	switch {
	case len(w.Marks) > 0 && w.Teeth != 0:
		return fmt.Errorf("practice: crank wheel has both teeth and marks, give one of them")
	case len(w.Marks) > 0:
		return ascending("crank wheel marks", w.Marks, 360)
	case w.Teeth < 4 || w.Teeth > 360 || w.Missing < 0 || w.Missing > w.Teeth/2:
		return fmt.Errorf("practice: crank wheel %d−%d is impossible, expected 4 to 360 teeth and at most half missing", w.Teeth, w.Missing)
	case !(w.SpacingDeg >= 0 && w.SpacingDeg < 90/float64(w.Teeth)) || !(w.JitterSeconds >= 0 && w.JitterSeconds < 1e-3):
		return fmt.Errorf("practice: crank wheel spacing error %g° or jitter %g s is impossible", w.SpacingDeg, w.JitterSeconds)
	}
	return nil
}

func (c CamWheel) check() error {
	if !(c.JitterSeconds >= 0 && c.JitterSeconds < 1e-2) {
		return fmt.Errorf("practice: cam jitter %g s is impossible", c.JitterSeconds)
	}
	return ascending("cam edges", c.Edges, 720)
}

func ascending(what string, angles []engine.CrankDeg, below float64) error {
	for i, a := range angles {
		if !(a >= 0 && float64(a) < below) || i > 0 && a <= angles[i-1] {
			return fmt.Errorf("practice: %s must rise from 0 to below %g, got %g at place %d", what, below, float64(a), i+1)
		}
	}
	return nil
}

// angles lists the true mark angles within one turn, spacing error included,
// ascending in [0, 360).
func (w Wheel) angles(d dice) []float64 {
	var out []float64
	for _, a := range w.nominal() {
		out = append(out, a+w.SpacingDeg*d.normal()+w.RunoutDeg*math.Sin(a*math.Pi/180))
	}
	for i, a := range out {
		out[i] = math.Mod(a+720, 360)
	}
	slices.Sort(out)
	return out
}

func (w Wheel) nominal() []float64 {
	var out []float64
	for _, m := range w.Marks {
		out = append(out, float64(m+w.GapDeg))
	}
	if len(w.Marks) == 0 {
		for k := range w.Teeth - w.Missing {
			out = append(out, float64(w.GapDeg)+360*float64(k)/float64(w.Teeth))
		}
	}
	return out
}
