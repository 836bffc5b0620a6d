package crank

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// learnTurns is how many turns in a row an uneven wheel is learnt from.
const learnTurns = 24

// learnUneven finds the angles of m marks per turn from the share of each
// interval in its own turn. What repeats every turn in the engine's speed is
// taken for spacing: only half orders can be trusted afterwards.
func learnUneven(m int, edges []float64) (Wheel, error) {
	best, spread := []float64(nil), math.Inf(1)
	block := learnTurns * m
	for from := 0; from+3*m+1 < len(edges); from += max(m, block/2) {
		part := edges[from:min(len(edges), from+block)]
		if len(part) < 3*m+1 {
			break
		}
		if shares, s := turnShares(m, part); s < spread {
			best, spread = shares, s
		}
	}
	if best == nil {
		return Wheel{}, fmt.Errorf("%d edges are too few to learn a wheel of %d marks, at least %d are needed", len(edges), m, 3*m+2)
	}
	if spread > 0.2 {
		return Wheel{}, fmt.Errorf("no pattern of %d marks repeats in these edges", m)
	}
	w := Wheel{Positions: m, Learn: true, Angles: make([]float64, m)}
	for k := 1; k < m; k++ {
		w.Angles[k] = w.Angles[k-1] + turnDeg*best[k-1]
	}
	return w, nil
}

// turnShares is the median share of the turn between each mark and the next,
// and how far the shares scatter relative to themselves (90 % of them).
func turnShares(m int, edges []float64) (shares []float64, spread float64) {
	classes := make([][]float64, m)
	for i := m / 2; i+m-m/2 < len(edges)-1; i++ {
		turn := edges[i+m-m/2] - edges[i-m/2]
		classes[i%m] = append(classes[i%m], (edges[i+1]-edges[i])/turn)
	}
	var off []float64
	for k, c := range classes {
		if len(c) == 0 {
			return nil, math.Inf(1)
		}
		mid := median(c)
		shares = append(shares, mid)
		for _, x := range classes[k] {
			off = append(off, math.Abs(x/mid-1))
		}
	}
	total := 0.0
	for _, s := range shares {
		total += s
	}
	for k := range shares {
		shares[k] /= total
	}
	slices.Sort(off)
	return shares, off[len(off)*9/10]
}

// stretch is a run of marks between two gaps, as counted in the edges.
type stretch struct{ marks, missing int }

// maxSurveyed is how many edges are looked at to recognise a wheel.
const maxSurveyed = 6000

// survey counts marks between gaps: an interval at least 1.6 times the median
// of its neighbours is a gap.
func survey(edges []float64) []stretch {
	edges = edges[:min(len(edges), maxSurveyed)]
	var out []stretch
	count := 0
	for i := 3; i+4 < len(edges); i++ {
		count++
		near := []float64{edges[i-2] - edges[i-3], edges[i-1] - edges[i-2], edges[i] - edges[i-1],
			edges[i+2] - edges[i+1], edges[i+3] - edges[i+2], edges[i+4] - edges[i+3]}
		if r := (edges[i+1] - edges[i]) / median(near); r > 1.6 {
			out = append(out, stretch{count, int(math.Round(r)) - 1})
			count = 0
		}
	}
	if len(out) > 0 {
		out = out[1:] // its beginning was not seen
	}
	return out
}

// turnOf finds how many stretches make one turn: the shortest period in which
// most of the sequence repeats.
func turnOf(s []stretch) ([]stretch, bool) {
	for p := 1; p <= 4 && 2*p <= len(s); p++ {
		agree := 0
		for i := p; i < len(s); i++ {
			if s[i] == s[i-p] {
				agree++
			}
		}
		if 10*agree < 8*(len(s)-p) {
			continue
		}
		return sameGaps(primitive(usualTurn(s, p))), true
	}
	return nil, false
}

// sameGaps takes gaps that differ by one where the marks between repeat for the
// same gap, seen once while a compression slows the crank in it: the smaller.
func sameGaps(turn []stretch) []stretch {
	for q := 1; q < len(turn); q++ {
		if len(turn)%q != 0 {
			continue
		}
		out := slices.Clone(turn[:q])
		alike := true
		for k, s := range turn {
			o := &out[k%q]
			alike = alike && s.marks == o.marks && max(s.missing, o.missing)-min(s.missing, o.missing) <= 1
			o.missing = min(o.missing, s.missing)
		}
		if alike {
			return out
		}
	}
	return turn
}

// triedTurns is how many places of a recording are asked for the usual turn.
const triedTurns = 64

// usualTurn is the run of p stretches that stands most often among those that
// follow themselves: noise before the engine turns repeats now and then too.
func usualTurn(s []stretch, p int) (turn []stretch) {
	most := 0
	for i := 0; i+2*p <= len(s); i += 1 + len(s)/triedTurns {
		if one := s[i : i+p]; slices.Equal(one, s[i+p:i+2*p]) {
			count := 0
			for j := 0; j+p <= len(s); j++ {
				if slices.Equal(one, s[j:j+p]) {
					count++
				}
			}
			if count > most {
				turn, most = one, count
			}
		}
	}
	if turn == nil {
		return s[:p]
	}
	return turn
}

// primitive is the shortest part of a turn that makes it up by repetition.
func primitive(turn []stretch) []stretch {
	for p := 1; p < len(turn); p++ {
		if len(turn)%p == 0 && slices.Equal(turn[p:], turn[:len(turn)-p]) {
			return turn[:p]
		}
	}
	return turn
}

// turnSeen looks for a turn at the beginning and, where that does not repeat,
// further on: many recordings begin before the engine turns, with noise for
// edges.
func turnSeen(edges []float64) ([]stretch, bool) {
	for _, quarter := range []int{0, 2, 1, 3} {
		if turn, ok := turnOf(survey(edges[quarter*len(edges)/4:])); ok && wheelOf(turn).Positions <= maxPositions {
			return turn, true
		}
	}
	for _, quarter := range []int{0, 2, 1, 3} {
		if turn, ok := turnByPlaces(edges[quarter*len(edges)/4:]); ok {
			return turn, true
		}
	}
	return nil, false
}

// wheelOf turns the stretches of one turn into a wheel whose mark 0 follows
// the largest gap.
func wheelOf(turn []stretch) Wheel {
	largest := 0
	for i, s := range turn {
		if s.missing > turn[largest].missing {
			largest = i
		}
	}
	w := Wheel{}
	for i := range turn {
		s := turn[(largest+i)%len(turn)]
		w.Gaps, w.Runs = append(w.Gaps, s.missing), append(w.Runs, s.marks)
		w.Positions += s.marks + s.missing
	}
	return w
}

// seen says in words what the edges look like, for a person whose wheel does
// not fit.
func seen(edges []float64) string {
	if len(edges) < 12 {
		return fmt.Sprintf("%d edges are too few to recognise a wheel", len(edges))
	}
	turn, ok := turnSeen(edges)
	if !ok {
		return seenWithoutGap(edges)
	}
	var parts []string
	for _, s := range turn {
		parts = append(parts, fmt.Sprintf("%d teeth and a gap of %d", s.marks, s.missing+1))
	}
	return fmt.Sprintf("%s: is it %s?", strings.Join(parts, ", "), wheelOf(turn))
}

// seenWithoutGap tells even teeth from a short uneven pattern.
func seenWithoutGap(edges []float64) string {
	edges = edges[:min(len(edges), maxSurveyed)]
	for m := 2; m <= fewMarks; m++ {
		shares, spread := turnShares(m, edges)
		if spread > 0.06 {
			continue
		}
		if slices.Max(shares)-slices.Min(shares) < 0.06/float64(m) {
			return "evenly spaced marks without a gap: how many are there in one turn (24)?"
		}
		var parts []string
		for _, s := range shares {
			parts = append(parts, fmt.Sprintf("%.0f", 100*s))
		}
		return fmt.Sprintf("no gap, but %d uneven steps that repeat (%s %%): is it %du, or a multiple of it?", m, strings.Join(parts, " "), m)
	}
	return "no gap and no pattern that repeats was seen: is it the crank channel, and is the engine turning?"
}

// recognise completes a wheel from the edges: nothing known, uneven marks, or
// gaps whose distance is not known. perTurn is the number of edges per turn as
// the cam tells it, 0 without a cam.
func recognise(w Wheel, edges []float64, perTurn int) (Wheel, error) {
	w = w.settle()
	turn, gaps := turnOf(survey(edges))
	gaps = gaps && wheelOf(turn).Positions <= maxPositions // else marks missed now and then, not a gap
	if !gaps && (!w.Known() && !w.Learn || !multiples(w.Marks(), perTurn)) {
		turn, gaps = turnSeen(edges)
	}
	found := Wheel{}
	if gaps {
		found = repeated(wheelOf(turn), w.Positions, perTurn)
	}
	toothed := gaps && found.Marks() > fewMarks && (w.Positions != 0 || multiples(found.Marks(), perTurn))
	switch {
	case toothed && w.Positions != 0 && !sameWheel(w, found):
		return Wheel{}, fmt.Errorf("the wheel is not %s: %s", w, seen(edges))
	case w.Positions != 0 && !multiples(w.Marks(), perTurn) && !toothed: // pulses may spoil the count
		if gaps {
			return Wheel{}, fmt.Errorf("the wheel is not %s: %s", w, seen(edges))
		}
		return Wheel{}, fmt.Errorf("the wheel is not %s: by the cam %d marks pass in one turn, without a gap: is it %s?", w, perTurn, withoutGap(perTurn))
	case w.Known() && len(w.Gaps) == 0 && len(w.Angles) <= fewMarks && evenAngles(w.Angles):
		return learnUneven(len(w.Angles), edges) // "4" may be uneven: look
	case w.Known():
		return w, nil
	case w.Learn:
		learnt, err := learnUneven(w.Positions, edges)
		if err != nil {
			err = fmt.Errorf("%w: %s", err, seen(edges))
		}
		return learnt, err
	case toothed || gaps && w.Positions != 0 && sameWheel(w, found):
		return found.settle(), nil
	case w.Positions != 0:
		return Wheel{}, fmt.Errorf("the wheel is not %s: %s", w, seen(edges))
	case perTurn > fewMarks:
		return Wheel{Positions: perTurn}.settle(), nil
	case gaps && found.Marks() > leastTeeth && looksLike(found, edges):
		return found.settle(), nil
	case perTurn > 0:
		return learnUneven(perTurn, edges)
	}
	return Wheel{}, errors.New("the wheel cannot be recognised: no gap repeats and no cam counts the turns; give it, such as --wheel 60-2 or 4u")
}

// withoutGap is a wheel of so many marks as a person types it.
func withoutGap(marks int) string {
	if marks <= fewMarks {
		return Wheel{Positions: marks, Learn: true}.String()
	}
	return Wheel{Positions: marks}.String()
}

// multiples reports whether one count is a multiple of the other, as it is where
// a cam pattern repeats within the cycle; without a count it may be.
func multiples(a, b int) bool {
	return a == 0 || b == 0 || a%b == 0 || b%a == 0
}

// leastTeeth is the fewest marks taken for teeth without being told.
const leastTeeth = 6

// looksLike reports whether marks learnt from the edges stand where those of a
// toothed wheel would.
func looksLike(w Wheel, edges []float64) bool {
	w = w.settle()
	learnt, err := learnUneven(len(w.Angles), edges)
	if err != nil {
		return false
	}
	want, have := w.steps(), learnt.steps()
	for turned := range have {
		off := 0.0
		for k := range have {
			off = max(off, math.Abs(have[(k+turned)%len(have)]/want[k]-1))
		}
		if off < 0.15 {
			return true
		}
	}
	return false
}

// repeated is a wheel whose pattern stands several times in one turn, as the
// positions asked for or the marks counted by the cam say.
func repeated(w Wheel, positions, perTurn int) Wheel {
	times := 1
	switch {
	case positions > w.Positions && positions%w.Positions == 0:
		times = positions / w.Positions
	case positions == 0 && perTurn > w.Marks() && perTurn%w.Marks() == 0:
		times = perTurn / w.Marks()
	}
	return Wheel{Positions: times * w.Positions, Gaps: slices.Repeat(w.Gaps, times), Runs: slices.Repeat(w.Runs, times)}
}

func sameWheel(a, b Wheel) bool {
	return a.Positions == b.Positions && slices.Equal(sorted(a.Gaps), sorted(b.Gaps))
}

func sorted(v []int) []int {
	s := slices.Clone(v)
	slices.Sort(s)
	return s
}
