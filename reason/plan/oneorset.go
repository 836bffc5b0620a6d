package plan

import (
	"errors"
	"fmt"
	"math"
)

// SetCase is the question whether to renew one part or all of its kind that are
// within reach. All ages are in one unit of use, all money in one currency.
type SetCase struct {
	Kind     string  // "coil", for the sentence
	Others   int     // sound parts of the same age that are within reach now
	Age      float64 // of the others
	Horizon  float64 // use during which a failure comes back to the shop
	Life     Weibull // of such parts; the zero value: use Chance
	Chance   float64 // chance that one of the others fails in the horizon, where no life is known
	Price    float64 // of one part
	Labour   float64 // to renew one more while the way is open
	Access   float64 // to open the way again for a repeat
	Comeback float64 // diagnosis, visit and goodwill of a repeat
}

// SetAnswer is the answer in money.
type SetAnswer struct {
	All       bool    `json:"all"`
	PerPart   float64 `json:"per_part"`   // chance that one of the others fails within the horizon
	Any       float64 `json:"any"`        // chance that at least one does
	Now       float64 `json:"now"`        // cost of renewing the others now
	Later     float64 `json:"later"`      // expected cost of leaving them
	BreakEven float64 `json:"break_even"` // per-part chance at which both cost the same; above 1: never
	Sentence  string  `json:"sentence"`
}

// OneOrSet compares renewing the others now with the expected cost of their
// failing within the horizon: each failure then costs part, labour, access and a
// comeback. New parts are taken to last the horizon.
func OneOrSet(c SetCase) (SetAnswer, error) {
	if err := c.check(); err != nil {
		return SetAnswer{}, err
	}
	a := SetAnswer{PerPart: c.Chance}
	if c.Life != (Weibull{}) {
		a.PerPart = 1 - c.Life.SurvivalFrom(c.Age, c.Horizon)
	}
	n := float64(c.Others)
	each := c.Price + c.Labour + c.Access + c.Comeback
	a.Any = 1 - math.Pow(1-a.PerPart, n)
	a.Now = n * (c.Price + c.Labour)
	a.Later = n * a.PerPart * each
	a.BreakEven = (c.Price + c.Labour) / each
	a.All = c.Others > 0 && a.Now < a.Later
	a.Sentence = c.words(a)
	return a, nil
}

func (c SetCase) check() error {
	for _, v := range []float64{c.Age, c.Horizon, c.Price, c.Labour, c.Access, c.Comeback, c.Chance} {
		if !(v >= 0) || math.IsInf(v, 1) {
			return fmt.Errorf("one or the set: ages, money and chances must be 0 or more, got %g", v)
		}
	}
	switch {
	case c.Others < 0:
		return fmt.Errorf("one or the set: %d other parts", c.Others)
	case c.Chance > 1:
		return fmt.Errorf("one or the set: a chance of %g is above 1", c.Chance)
	case c.Price+c.Labour+c.Access+c.Comeback == 0:
		return errors.New("one or the set: nothing costs anything, give at least a price")
	case c.Life != (Weibull{}) && (c.Life.Scale <= 0 || c.Life.Shape <= 0 || math.IsNaN(c.Life.Scale+c.Life.Shape)):
		return fmt.Errorf("one or the set: a life of scale %g and shape %g cannot be", c.Life.Scale, c.Life.Shape)
	}
	return nil
}

func (c SetCase) words(a SetAnswer) string {
	switch {
	case c.Others == 0:
		return "There is only the one."
	case a.BreakEven >= 1:
		return fmt.Sprintf("Renew one %s: a repeat never costs more than renewing the others now.", c.Kind)
	case a.All:
		return fmt.Sprintf("Renew the other %d as well: %.0f now against %.0f expected later. That pays from a chance of %.0f %% each; it is %.0f %%.",
			c.Others, a.Now, a.Later, 100*a.BreakEven, 100*a.PerPart)
	}
	return fmt.Sprintf("Renew one %s: the other %d would cost %.0f now against %.0f expected later. All would pay from a chance of %.0f %% each; it is %.0f %%.",
		c.Kind, c.Others, a.Now, a.Later, 100*a.BreakEven, 100*a.PerPart)
}
