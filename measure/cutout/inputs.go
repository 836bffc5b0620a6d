package cutout

import (
	"fmt"

	"halforder/finding"
	"halforder/measure/crank"
)

// SpeedFromMarks is the engine speed from the times of a crank wheel's edges in
// seconds: one value a mark, each the mean over the last whole turn, so that
// uneven marks do not matter. marks is how many edges a turn has.
func SpeedFromMarks(edges []float64, marks int) (Track, error) {
	if marks < 1 || len(edges) < 4*marks {
		return Track{}, fmt.Errorf("crank marks: %d edges with %d a turn, expected at least four turns", len(edges), marks)
	}
	every := max(marks/4, 1)
	var t Track
	for i := marks; i < len(edges); i += every {
		turn := edges[i] - edges[i-marks]
		if turn > 0 {
			t.T, t.Y = append(t.T, (edges[i]+edges[i-marks])/2), append(t.Y, 60/turn)
		}
	}
	return t, t.check()
}

// FromCrank makes a recording of crank edges: the speed, with the wheel found
// or given. Marks and calls are still to be added.
func FromCrank(s crank.Setup, rec crank.Recording) (Recording, error) {
	marks := s.Wheel.Marks()
	if marks < 1 {
		result, err := crank.Analyse(s, rec)
		if err != nil {
			return Recording{}, err
		}
		marks = result.Wheel.Marks()
	}
	speed, err := SpeedFromMarks(rec.Crank, marks)
	return Recording{Layout: s.Layout, Speed: speed, Cycles: cyclesFromMarks(rec.Crank, marks, s.Layout.N())}, err
}

// cyclesFromMarks is how long each part of the cycle took, as a share of the
// whole: four parts a firing where there are marks enough. One cycle a turn, so
// that two overlap; a part keeps its place.
func cyclesFromMarks(edges []float64, marks, cylinders int) (c Cycles) {
	parts := 2 * min(2*cylinders, marks) // even: a turn is half of them
	for turn := 0; (turn+2)*marks < len(edges); turn++ {
		first := turn * marks
		whole := edges[first+2*marks] - edges[first]
		if whole <= 0 {
			continue
		}
		x := make([]float64, parts)
		for i := range x {
			from, to := edges[first+2*marks*i/parts], edges[first+2*marks*(i+1)/parts]
			x[(i+turn%2*parts/2)%parts] = (to - from) / whole
		}
		c.T, c.X = append(c.T, edges[first]+whole/2), append(c.X, x)
	}
	return c
}

// trackOf takes the usable points of a series.
func trackOf(s finding.Series) (t Track) {
	for i := range s.X {
		if finite(s.X[i]) && finite(s.Y[i]) && (len(t.T) == 0 || s.X[i] >= t.T[len(t.T)-1]) {
			t.T, t.Y = append(t.T, s.X[i]), append(t.Y, s.Y[i])
		}
	}
	return t
}
