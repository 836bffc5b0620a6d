package order

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/finding"
)

// Cut says that a known cylinder was switched off for a part of the recording,
// in seconds from its start. Times good to half a second will do.
type Cut struct {
	Cylinder engine.Cylinder
	From, To float64
}

// ParseCut reads a cut as it is typed: cylinder@from-to, "3@12-17".
func ParseCut(text string) (Cut, error) {
	bad := fmt.Errorf("%q is no cut: write cylinder@from-to in seconds, such as 3@12-17", text)
	name, span, ok := strings.Cut(text, "@")
	from, to, ok2 := strings.Cut(span, "-")
	if !ok || !ok2 {
		return Cut{}, bad
	}
	n, err := strconv.Atoi(strings.TrimSpace(name))
	a, err2 := strconv.ParseFloat(strings.TrimSpace(from), 64)
	b, err3 := strconv.ParseFloat(strings.TrimSpace(to), 64)
	if err := errors.Join(err, err2, err3); err != nil || !(a >= 0 && b > a && b < 1e6) {
		return Cut{}, bad
	}
	return Cut{engine.Cylinder(n), a, b}, nil
}

// UnmarshalText reads the form of ParseCut.
func (c *Cut) UnmarshalText(text []byte) (err error) {
	*c, err = ParseCut(string(text))
	return err
}

const (
	cutMargin  = 0.5  // s around a cut that belong to neither side
	cutBefore  = 15.0 // s before it that it is compared with
	cutLeast   = 8    // cycles needed on each side
	cutBlocks  = 4    // and blocks of a motion
	cutSettles = 0.6  // s after its start: the exhaust holds the last firing, the speed falls
	unlisted   = -8.0 // log-likelihood of three and more lazy cylinders, against the best
	leastLog   = -40.0
)

func (h *heard) inCut(t float64) bool {
	for _, c := range h.cuts {
		if t > c.From-cutMargin && t < c.To+cutMargin {
			return true
		}
	}
	return false
}

func between(cycles []cycle, from, to float64) []cycle {
	var out []cycle
	for _, c := range cycles {
		if c.start >= from && c.start+c.seconds <= to {
			out = append(out, c)
		}
	}
	return out
}

// samePiece leaves out what a gap parts from the start of the cut.
func samePiece(before, during []cycle) (a, b []cycle) {
	if len(before) == 0 || len(during) == 0 {
		return before, during
	}
	piece := during[0].piece
	elsewhere := func(c cycle) bool { return c.piece != piece }
	return slices.DeleteFunc(before, elsewhere), slices.DeleteFunc(during, elsewhere)
}

// names weighs the patterns by every cut, and says which cuts were of no use.
func (h *heard) names() (*finding.Likelihood, []string) {
	var notes []string
	log := map[finding.Pattern]float64{}
	for i, c := range h.cuts {
		before := between(h.kept, c.From-cutBefore, c.From-cutMargin)
		during := between(h.kept, c.From+cutSettles, c.To-cutMargin/2)
		before, during = samePiece(before, during)
		if few := h.tooFew(before, during); few != "" {
			notes = append(notes, fmt.Sprintf("the cut of cylinder %d has %s", c.Cylinder, few))
			continue
		}
		if h.motion && died(before, during) {
			notes = append(notes, diedNote(c))
			continue
		}
		weights, note := map[finding.Pattern]float64(nil), ""
		if h.motion {
			weights = h.byRatio(i, before, during)
		} else {
			weights, note = h.byReplay(h.reels[i], before)
		}
		if note != "" {
			notes = append(notes, note)
		}
		for p, v := range weights {
			log[p] += v
		}
	}
	if len(log) == 0 {
		return nil, notes
	}
	return shifted(log), notes
}

func diedNote(c Cut) string {
	return fmt.Sprintf("the engine died, or nearly, when cylinder %d was cut: hold it at some 1200 rpm and cut again", c.Cylinder)
}

// tooFew says what cycles are lacking around a cut, or nothing. Those of a motion
// come in blocks of some cycles, of which the errors need a few.
func (h *heard) tooFew(before, during []cycle) string {
	a, b := len(before), len(during)
	if h.motion {
		a, b = int(cyclesIn(before)+0.5), int(cyclesIn(during)+0.5)
	}
	if min(a, b) >= cutLeast && (!h.motion || min(len(before), len(during)) >= cutBlocks) {
		return ""
	}
	return fmt.Sprintf("%d cycles before and %d during it, and more are needed: cut for 4 s after 10 s of plain idle", a, b)
}

// namedPatterns lists every pattern by cylinder with which an engine idles.
func namedPatterns(n int) []finding.Pattern {
	var out []finding.Pattern
	for _, canonical := range patternsOf(n) {
		if idles(canonical) {
			out = append(out, rotations(canonical)...)
		}
	}
	return out
}

// shifted makes the best pattern 0 and bounds the others.
func shifted(log map[finding.Pattern]float64) *finding.Likelihood {
	top := math.Inf(-1)
	for _, v := range log {
		top = max(top, v)
	}
	for p := range log {
		log[p] = max(log[p]-top, leastLog)
	}
	return &finding.Likelihood{Log: log, Else: unlisted}
}
