package catalyst

import (
	"fmt"
)

// Load is what the engine is doing, as far as gas flow goes.
type Load string

// The loads.
const (
	Stopped Load = "stopped" // engine off: nothing flows
	Idle    Load = "idle"
	Raised  Load = "raised" // about 1,200–2,500 rpm, not pulling
	Road    Load = "road"   // pulling
)

// flowPerCylinder in g/s: the flows of trade notes 3.10 for four cylinders on
// one catalyst, shared out.
var flowPerCylinder = map[Load]float64{Stopped: 0, Idle: 1, Raised: 3, Road: 10}

// inletC is the gas before the catalyst in °C (judgement).
var inletC = map[Load]float64{Stopped: 450, Idle: 450, Raised: 550, Road: 750}

// Setting is how much is allowed.
type Setting struct {
	Name string `json:"name"`

	HeatFactor    float64 `json:"heat_factor"`     // model heat is multiplied by this
	InjectorShare float64 `json:"injector_share"`  // heat of an injector cut, as a share of a spark cut's
	CoolFactor    float64 `json:"cool_factor"`     // recovery is credited at this share of the model's speed
	LimitC        float64 `json:"limit_c"`         // catalyst temperature at which everything stops
	SparkSeconds  float64 `json:"spark_s"`         // wanted length of a spark cut
	SparkHard     float64 `json:"spark_hard_s"`    // end of a spark cut, whatever else
	SparkTotal    float64 `json:"spark_total_s"`   // all spark cuts of a visit
	SparkLoaded   bool    `json:"spark_loaded"`    // spark cuts under load at all
	InjectorHard  float64 `json:"injector_hard_s"` // end of an injector cut
	Recovery      float64 `json:"recovery_s"`      // pause between spark cuts
}

// Careful is the most careful setting and the default. Seconds: trade notes
// 3.1 (5 s wanted, 10 s hard, 60 s a visit, 30 s pause, injector 30 s). 870 °C
// is the upper end of normal (trade notes 3.7). Factors are judgement.
var Careful = Setting{
	Name: "most careful", HeatFactor: 2, InjectorShare: 0.25, CoolFactor: 0.5, LimitC: 870,
	SparkSeconds: 5, SparkHard: 10, SparkTotal: 60, InjectorHard: 30, Recovery: 30,
}

// Plain is the model as it stands, with the same limits in seconds. 950 °C is
// where one maker begins to count damage (trade notes 3.6).
var Plain = Setting{
	Name: "plain model", HeatFactor: 1, InjectorShare: 0, CoolFactor: 1, LimitC: 950,
	SparkSeconds: 5, SparkHard: 10, SparkTotal: 60, InjectorHard: 30, Recovery: 30,
}

// Departure says in one sentence how the setting differs from the model.
func (s Setting) Departure() string {
	if s.HeatFactor == 1 && s.CoolFactor == 1 && s.InjectorShare == 0 {
		return "Heat as the one-lump model has it, which is optimistic: the front face of a catalyst heats faster than its mean."
	}
	return fmt.Sprintf("Counts %g times the heat of the one-lump model because the front face heats faster than the mean, credits %.0f %% of its recovery, "+
		"and counts an injector cut as %.0f %% of a spark cut because the mixture control enriches the other cylinders; stops at %g °C.",
		s.HeatFactor, 100*s.CoolFactor, 100*s.InjectorShare, s.LimitC)
}

// Check says what makes a setting unusable.
func (s Setting) Check() error {
	positive := map[string]float64{"heat factor": s.HeatFactor, "cool factor": s.CoolFactor, "limit": s.LimitC,
		"spark seconds": s.SparkSeconds, "spark hard stop": s.SparkHard, "spark total": s.SparkTotal, "injector hard stop": s.InjectorHard}
	for name, v := range positive {
		if !(v > 0 && v < 1e6) {
			return fmt.Errorf("catalyst setting: %s is %g, expected a positive number", name, v)
		}
	}
	if !(s.InjectorShare >= 0 && s.InjectorShare <= 1) || !(s.Recovery >= 0 && s.Recovery < 1e6) {
		return fmt.Errorf("catalyst setting: injector share %g must lie in 0 to 1 and recovery %g s must not be negative", s.InjectorShare, s.Recovery)
	}
	return nil
}

// limitK is the rise above the inlet that a load allows.
func (s Setting) limitK(l Load) float64 { return max(s.LimitC-inletC[l], 0) }
