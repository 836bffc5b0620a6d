package cutout

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

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

// cyclesFromMarks is how unevenly each cycle turned: the harmonics of the square
// of the speed, which is in proportion to the work of the firings so far. A cycle a
// turn, so that two overlap.
func cyclesFromMarks(edges []float64, marks, cylinders int) (c Cycles) {
	c.Harmonics, c.Alike = min(2*cylinders, marks-1), crankAlike
	widths := markWidths(edges, marks)
	turns := markTurns(widths, c.Harmonics)
	for turn := 0; (turn+2)*marks < len(edges); turn++ {
		times := edges[turn*marks : (turn+2)*marks+1]
		whole := times[2*marks] - times[0]
		if whole <= 0 {
			continue
		}
		squares := make([]float64, 2*marks)
		for i := range squares {
			w := widths[i%marks]
			if dt := times[i+1] - times[i]; dt > 0 {
				squares[i] = w * (w / dt) * (w / dt)
			}
		}
		x := make([]float64, 0, 2*c.Harmonics)
		for h := range c.Harmonics {
			var sum complex128
			for i, turned := range turns[h] {
				sum += complex(squares[i], 0) * turned
			}
			if h%2 == 0 && turn%2 == 1 {
				sum = -sum // half a cycle on
			}
			x = append(x, real(sum), imag(sum))
		}
		c.T, c.X = append(c.T, times[0]+whole/2), append(c.X, x)
	}
	return c
}

// crankAlike: a crankshaft turns all of them alike, but for its twist (judgement).
const crankAlike = 0.06

// markWidths is how far it is from each mark of a turn to the next, cycle radians:
// one pitch or several where marks are missing, and where no pitch fits, as long as
// it usually takes. The latter takes what turns with the crank for spacing.
func markWidths(edges []float64, marks int) []float64 {
	width, all := make([]float64, marks), 0.0
	for turn := 0; (turn+1)*marks < len(edges); turn++ {
		times := edges[turn*marks : (turn+1)*marks+1]
		if whole := times[marks] - times[0]; whole > 0 {
			all++
			for i := range width {
				width[i] += math.Pi * (times[i+1] - times[i]) / whole
			}
		}
	}
	for i := range width {
		width[i] /= math.Max(all, 1)
	}
	return onPitch(width)
}

// offPitch is how far from whole a multiple of the pitch may look, in pitches: the
// speed within a turn and the marks are never quite even (judgement).
const offPitch = 0.3

// onPitch makes widths whole multiples of the usual one, if they are nearly that.
func onPitch(width []float64) []float64 {
	pitch, all := median(slices.Clone(width)), 0.0
	out := make([]float64, len(width))
	for i, w := range width {
		out[i] = math.Round(w / pitch)
		if out[i] < 1 || math.Abs(w/pitch-out[i]) > offPitch {
			return width
		}
		all += out[i]
	}
	for i := range out {
		out[i] *= math.Pi / all
	}
	return out
}

// markTurns turns the stretch after each mark of a cycle back by the angle of its
// middle, for each harmonic of the cycle.
func markTurns(widths []float64, harmonics int) [][]complex128 {
	out := make([][]complex128, harmonics)
	for h := range out {
		at := 0.0
		for i := range 2 * len(widths) {
			width := widths[i%len(widths)]
			out[h] = append(out[h], cmplx.Rect(1, -float64(h+1)*(at+width/2)))
			at += width
		}
	}
	return out
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
