package main

import (
	"math"
	"strings"
	"testing"

	"halforder/reason/plan"
)

// What reads as a table of lives can be fitted without a number that is none, or
// is refused in words.
func FuzzLives(f *testing.F) {
	f.Add("age,state,count\n54,failed\n187,failed\n500,sound,10\n")
	f.Add("1e9,failed\n1e-9,failed\n")
	f.Add("\"54\",failed,1e9\n55,failed")
	f.Fuzz(func(t *testing.T, text string) {
		lives, err := readLives(strings.NewReader(text))
		if err != nil {
			return
		}
		w, err := plan.FitWeibull(lives)
		if err == nil && !(w.Scale > 0 && w.Shape > 0 && !math.IsInf(w.Scale+w.Shape, 1)) {
			t.Errorf("%q gives the life %+v", text, w)
		}
	})
}
