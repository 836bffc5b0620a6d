package crank

import (
	"fmt"
	"strconv"
	"strings"
)

const turnDeg = 360.0
const cycleDeg = 720.0

// fewMarks is the largest number of marks per turn that a wheel may place
// unevenly without a gap.
const fewMarks = 12

// maxPositions bounds a wheel: finer encoders are not crank trigger wheels.
const maxPositions = 720

// Wheel is what turns past the crank sensor: where its marks stand within one
// turn. The zero value means "find out".
type Wheel struct {
	Positions int   // places around the wheel, filled or missing
	Gaps      []int // how many places in a row are missing, one number per gap
	Runs      []int // filled places before each gap of a wheel with several; nil: learn

	// Angles of the marks in one turn, in degrees, ascending, the first 0. Nil
	// when they follow from Positions and Gaps or are to be learnt.
	Angles []float64
	Learn  bool // marks stand unevenly at angles to be learnt
}

// ParseWheel reads a wheel as a person types it:
//
//	60-2            sixty places, two missing in a row
//	36-2-1          two gaps, their distance is learnt
//	36-2-1/17-16    the same, 17 marks before the gap of two, 16 before the other
//	24              evenly spaced, no gap
//	4u              four marks a turn, uneven, angles to be learnt
//	4@0-70-180-250  four marks at known angles
//	auto            find out
func ParseWheel(text string) (Wheel, error) {
	w, err := parseWheel(strings.TrimSpace(text))
	if err != nil {
		return Wheel{}, fmt.Errorf("wheel %q: %w; write 60-2, 36-2-1, 24, 4u (uneven, learnt), 4@0-70-180-250 or auto", text, err)
	}
	return w, nil
}

func parseWheel(text string) (Wheel, error) {
	if text == "" || text == "auto" {
		return Wheel{}, nil
	}
	if count, uneven := strings.CutSuffix(text, "u"); uneven {
		n, err := wholeNumbers(count, 1, fewMarks)
		if err != nil || len(n) != 1 {
			return Wheel{}, fmt.Errorf("an uneven wheel has 1 to %d marks", fewMarks)
		}
		return Wheel{Positions: n[0], Learn: true}, nil
	}
	if _, angles, given := strings.Cut(text, "@"); given {
		return parseAngles(text, angles)
	}
	places, runs, several := strings.Cut(text, "/")
	n, err := wholeNumbers(places, 1, maxPositions)
	if err != nil {
		return Wheel{}, err
	}
	w := Wheel{Positions: n[0], Gaps: n[1:]}
	if several {
		if w.Runs, err = wholeNumbers(runs, 1, maxPositions); err != nil {
			return Wheel{}, err
		}
	}
	return w, w.check()
}

func parseAngles(text, angles string) (Wheel, error) {
	count, _, _ := strings.Cut(text, "@")
	w := Wheel{}
	for field := range strings.SplitSeq(angles, "-") {
		a, err := strconv.ParseFloat(field, 64)
		if err != nil || !(a >= 0 && a < turnDeg) {
			return Wheel{}, fmt.Errorf("%q is not an angle from 0 to below 360", field)
		}
		if k := len(w.Angles); k > 0 && a <= w.Angles[k-1] || k == 0 && a != 0 {
			return Wheel{}, fmt.Errorf("angles start at 0 and rise, %g does not fit", a)
		}
		w.Angles = append(w.Angles, a)
	}
	w.Positions = len(w.Angles)
	if count != strconv.Itoa(w.Positions) {
		return Wheel{}, fmt.Errorf("%s marks announced, %d angles given", count, w.Positions)
	}
	return w, nil
}

func wholeNumbers(text string, least, most int) ([]int, error) {
	var out []int
	for field := range strings.SplitSeq(text, "-") {
		n, err := strconv.Atoi(field)
		if err != nil || n < least || n > most {
			return nil, fmt.Errorf("%q is not a whole number from %d to %d", field, least, most)
		}
		out = append(out, n)
	}
	return out, nil
}

func (w Wheel) check() error {
	missing := sum(w.Gaps)
	if 2*missing >= w.Positions && missing > 0 {
		return fmt.Errorf("%d of %d places missing leaves too few", missing, w.Positions)
	}
	if w.Runs != nil && (len(w.Runs) != len(w.Gaps) || sum(w.Runs)+missing != w.Positions) {
		return fmt.Errorf("the runs between gaps must be one per gap and add up to %d", w.Positions-missing)
	}
	return nil
}

func sum(v []int) (total int) {
	for _, x := range v {
		total += x
	}
	return total
}

// Marks is how many marks pass the sensor in one turn; 0 when unknown.
func (w Wheel) Marks() int { return w.Positions - sum(w.Gaps) }

// Known reports whether the angle of every mark is settled.
func (w Wheel) Known() bool { return len(w.Angles) > 0 }

// String is the form ParseWheel reads, without learnt angles.
func (w Wheel) String() string {
	switch {
	case w.Positions == 0:
		return "auto"
	case w.Learn:
		return strconv.Itoa(w.Positions) + "u"
	case len(w.Gaps) == 0 && w.Known() && !evenAngles(w.Angles):
		return fmt.Sprintf("%d@%s", w.Positions, joinFloats(w.Angles))
	}
	text := strconv.Itoa(w.Positions)
	for _, g := range w.Gaps {
		text += "-" + strconv.Itoa(g)
	}
	return text
}

func evenAngles(angles []float64) bool {
	for k, a := range angles {
		if d := a - turnDeg*float64(k)/float64(len(angles)); d > 1e-9 || d < -1e-9 {
			return false
		}
	}
	return true
}

func joinFloats(v []float64) string {
	parts := make([]string, len(v))
	for i, x := range v {
		parts[i] = strconv.FormatFloat(x, 'f', -1, 64)
	}
	return strings.Join(parts, "-")
}

// settle fills Angles where they follow from the spec: no gap, one gap, or
// several with known runs. Mark 0 is the first after the gap (the first gap
// named).
func (w Wheel) settle() Wheel {
	runs := w.Runs
	if len(w.Gaps) == 1 {
		runs = []int{w.Marks()}
	}
	if w.Known() || w.Learn || w.Positions == 0 || len(runs) != len(w.Gaps) {
		return w
	}
	if len(w.Gaps) == 0 {
		runs = []int{w.Positions}
	}
	step := turnDeg / float64(w.Positions)
	place := 0
	// The list starts after the first gap, so its own run comes last.
	for i := range runs {
		g := (i + 1) % len(runs)
		for range runs[g] {
			w.Angles = append(w.Angles, step*float64(place))
			place++
		}
		if len(w.Gaps) > 0 {
			place += w.Gaps[g]
		}
	}
	return w
}

// steps are the angles from each mark to the next, in degrees.
func (w Wheel) steps() []float64 {
	n := len(w.Angles)
	out := make([]float64, n)
	for k := range n - 1 {
		out[k] = w.Angles[k+1] - w.Angles[k]
	}
	out[n-1] = turnDeg - w.Angles[n-1]
	return out
}
