package crank

import (
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// positionOf is the firing position of a slot (place in the order of tops).
func (a *analysis) positionOf(slot int) int { return a.order[slot] }

// inOrder lists the slots in the firing order, its first cylinder first; as they
// come when anonymous.
func (a *analysis) inOrder() []int {
	slots := make([]int, len(a.order))
	for slot, position := range a.order {
		if a.how == anonymous {
			position = slot
		}
		slots[position] = slot
	}
	return slots
}

// slotName is what to call a slot in a label: the cylinder, the two it may be,
// or a letter in the order of firing.
func (a *analysis) slotName(slot int) string {
	l := a.setup.Layout
	c := l.At(a.positionOf(slot))
	switch a.how {
	case named:
		return fmt.Sprint(c)
	case halfNamed:
		if mate, ok := l.Companion(c); ok {
			return fmt.Sprintf("%d or %d", min(c, mate), max(c, mate))
		}
	}
	return string(rune('A' + slot))
}

// slotPhrase is slotName in a sentence.
func (a *analysis) slotPhrase(slot int) string {
	switch a.how {
	case named, halfNamed:
		return "cylinder " + a.slotName(slot)
	}
	if a.clock.hasRef {
		after := wrapCycle(a.tops[slot] - a.clock.camRef)
		return fmt.Sprintf("firing %s (about %.0f° after the cam's reference edge)", a.slotName(slot), after)
	}
	return "firing " + a.slotName(slot)
}

// cylindersOf are the cylinders a slot may be, none when anonymous.
func (a *analysis) cylindersOf(slot int) []engine.Cylinder {
	l := a.setup.Layout
	c := l.At(a.positionOf(slot))
	switch a.how {
	case named:
		return []engine.Cylinder{c}
	case halfNamed:
		if mate, ok := l.Companion(c); ok {
			return []engine.Cylinder{c, mate}
		}
	}
	return nil
}

// inFiringOrder turns a pattern over slots into one over firing positions.
func (a *analysis) inFiringOrder(p slotPattern) finding.Pattern {
	b := make([]byte, len(p))
	for slot, s := range []byte(p) {
		b[a.positionOf(slot)] = s
	}
	return finding.Pattern(b)
}

// tableTrust is the belief that a wheel found in the table is fitted as there.
// The marks alone cannot tell: another engine may carry the same wheel turned.
const tableTrust = 0.9

// turns are the rotations of a firing order that the names leave open, and how
// much each is believed.
func (a *analysis) turns() []weighted {
	n := len(a.tops)
	switch {
	case a.how == halfNamed:
		return []weighted{{0, 0.5}, {float64(n / 2), 0.5}}
	case a.byTable:
		out := []weighted{{0, tableTrust}}
		for k := 1; k < n; k++ {
			out = append(out, weighted{float64(k), (1 - tableTrust) / float64(n-1)})
		}
		return out
	}
	return []weighted{{0, 1}}
}

// likelihood says what the recording tells of the cylinders, as far as they
// can be named.
func (a *analysis) likelihood() *finding.Likelihood {
	sums := map[finding.Pattern]*logSum{}
	add := func(p finding.Pattern, l float64) {
		if sums[p] == nil {
			sums[p] = &logSum{}
		}
		sums[p].add(l, 0)
	}
	worst := 0.0
	for p, l := range a.post.log {
		worst = min(worst, l)
		p = a.inFiringOrder(p)
		if a.how == anonymous {
			add(p.Canonical(), l)
			continue
		}
		for _, t := range a.turns() {
			add(p.Rotate(int(t.value)), l+math.Log(t.weight))
		}
	}
	out := &finding.Likelihood{Anonymous: a.how == anonymous, Log: map[finding.Pattern]float64{}, Else: worst}
	for p, s := range sums {
		out.Log[p] = s.log()
		if a.how == anonymous { // the mean of the patterns that look alike
			out.Log[p] -= math.Log(float64(len(s.logs)))
		}
	}
	return out
}

// joinWords lists things as a person would.
func joinWords(parts []string) string {
	parts = slices.Compact(slices.Sorted(slices.Values(parts)))
	switch len(parts) {
	case 0:
		return ""
	case 1:
		return parts[0]
	}
	out := parts[0]
	for _, p := range parts[1 : len(parts)-1] {
		out += ", " + p
	}
	return out + " and " + parts[len(parts)-1]
}
