package plan

import (
	"errors"
	"fmt"
	"math"
)

// DueCase is the question whether to renew parts that have an interval, such as
// plugs, before their time because the way to them is open. Ages are in one unit
// of use, money in one currency.
type DueCase struct {
	Kind     string // "plug", for the sentence
	Parts    int
	Age      float64
	Interval float64 // at which they are renewed anyway
	Price    float64 // of one part
	Labour   float64 // to renew one while the way is open
	Visit    float64 // to open the way for them alone, beyond Labour
}

// DueAnswer is the answer in money.
type DueAnswer struct {
	Now       bool    `json:"now"`
	Wasted    float64 `json:"wasted"`     // worth of the use that is left in the old ones
	Spared    float64 `json:"spared"`     // a visit of their own
	BreakEven float64 `json:"break_even"` // age from which renewing now pays; 0: always
	Sentence  string  `json:"sentence"`
}

// RenewDue compares the use thrown away, a share 1 − Age/Interval of parts and
// labour, with the visit spared.
func RenewDue(c DueCase) (DueAnswer, error) {
	for _, v := range []float64{c.Age, c.Interval, c.Price, c.Labour, c.Visit} {
		if !(v >= 0) || math.IsInf(v, 1) {
			return DueAnswer{}, fmt.Errorf("renew early: ages and money must be 0 or more, got %g", v)
		}
	}
	if c.Parts < 1 || c.Interval == 0 || c.Price+c.Labour == 0 {
		return DueAnswer{}, errors.New("renew early: give at least one part, its price and the interval at which it is renewed")
	}
	worth := float64(c.Parts) * (c.Price + c.Labour)
	left := max(0, 1-c.Age/c.Interval)
	a := DueAnswer{Wasted: left * worth, Spared: c.Visit, BreakEven: c.Interval * max(0, 1-c.Visit/worth)}
	a.Now = a.Wasted <= a.Spared
	advice := map[bool]string{true: "Renew", false: "Leave"}[a.Now]
	a.Sentence = fmt.Sprintf("%s the %d %ss while the way is open: that throws away use worth %.0f and spares a visit of %.0f. It pays from an age of %.0f; they are at %.0f of %.0f.",
		advice, c.Parts, c.Kind, a.Wasted, a.Spared, a.BreakEven, c.Age, c.Interval)
	return a, nil
}
