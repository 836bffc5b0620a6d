package crank

import (
	"errors"
	"fmt"
)

var errTooShort = errors.New("too short: no stretch of three full engine cycles was found")

var errNoEngine = errors.New("the engine is not known: give its layout, such as i4 or a firing order")

var errLearntUneven = errors.New("the angles of the marks were learnt from an engine that fires unevenly: they and the compressions cannot be told apart; give the angles, such as 4@0-70-180-250")

func errLabels(w Wheel, count int) error {
	return fmt.Errorf("edges are numbered 0 to %d, the wheel %s has %d marks a turn: expected that many numbers or twice as many",
		count-1, w, w.Marks())
}
