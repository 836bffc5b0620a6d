package engine

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Parse reads a layout as a person types it: a generic name or a firing order,
// "@" and firing angles where they are uneven, then named sets after commas.
//
//	i6
//	1-5-3-6-2-4
//	1-2@0-405
//	1-4-2-5-3-6,banks=1-2-3/4-5-6,feeds=1-2-3/4-5-6,drivers=1-4/2-5/3-6,cutset=4-5-6
//
// The error says which part is wrong and what was expected.
func Parse(text string) (Layout, error) {
	head, rest, _ := strings.Cut(strings.TrimSpace(text), ",")
	spec, err := parseHead(strings.TrimSpace(head))
	if err != nil {
		return Layout{}, err
	}
	if rest != "" {
		spec.Name, spec.Title = "", "" // no longer the generic engine
		if err := parseSets(&spec, rest); err != nil {
			return Layout{}, err
		}
	}
	return New(spec)
}

func parseHead(head string) (Spec, error) {
	if spec, ok := genericSpec(strings.ToLower(head)); ok {
		return spec, nil
	}
	order, angles, uneven := strings.Cut(head, "@")
	cylinders, err := parseCylinders(order)
	if err != nil {
		return Spec{}, fmt.Errorf("unknown engine %q: use one of %s, or a firing order such as 1-5-3-6-2-4", head, strings.Join(GenericNames(), ", "))
	}
	spec := Spec{Order: cylinders}
	if uneven {
		if spec.Angles, err = parseAngles(angles); err != nil {
			return Spec{}, err
		}
	}
	return spec, nil
}

func parseSets(spec *Spec, rest string) error {
	for part := range strings.SplitSeq(rest, ",") {
		key, value, _ := strings.Cut(strings.TrimSpace(part), "=")
		sets, err := parseCylinderSets(value)
		if err != nil {
			return fmt.Errorf("engine set %q: %w", part, err)
		}
		switch key {
		case "banks":
			spec.Banks = sets
		case "feeds":
			spec.CoilFeeds = sets
		case "drivers":
			spec.DriverPairs = sets
		case "cutset":
			if len(sets) != 1 {
				return fmt.Errorf("engine set %q: one set expected, such as cutset=2-3-5-8", part)
			}
			spec.CutSet = sets[0]
		default:
			return fmt.Errorf("engine set %q: expected banks=, feeds=, drivers= or cutset=", part)
		}
	}
	return nil
}

func parseCylinderSets(text string) ([][]Cylinder, error) {
	var out [][]Cylinder
	for set := range strings.SplitSeq(text, "/") {
		cylinders, err := parseCylinders(set)
		if err != nil {
			return nil, err
		}
		out = append(out, cylinders)
	}
	return out, nil
}

func parseCylinders(text string) ([]Cylinder, error) {
	var out []Cylinder
	for field := range strings.SplitSeq(text, "-") {
		n, err := strconv.Atoi(strings.TrimSpace(field))
		if err != nil {
			return nil, fmt.Errorf("%q is not a cylinder number, write them as 1-5-3", field)
		}
		out = append(out, Cylinder(n))
	}
	return out, nil
}

func parseAngles(text string) ([]CrankDeg, error) {
	var out []CrankDeg
	for field := range strings.SplitSeq(text, "-") {
		a, err := strconv.ParseFloat(strings.TrimSpace(field), 64)
		if err != nil || math.IsNaN(a) || math.IsInf(a, 0) {
			return nil, fmt.Errorf("%q is not a firing angle, write crank degrees as 0-150-240", field)
		}
		out = append(out, CrankDeg(a))
	}
	return out, nil
}

// String is the form Parse reads back to an equal layout.
func (l Layout) String() string {
	if !l.Valid() {
		return ""
	}
	if l.spec.Name != "" {
		return l.spec.Name
	}
	var b strings.Builder
	b.WriteString(joinCylinders(l.spec.Order))
	if !l.Even() {
		b.WriteString("@")
		for k, a := range l.spec.Angles {
			if k > 0 {
				b.WriteString("-")
			}
			b.WriteString(strconv.FormatFloat(float64(a), 'g', -1, 64))
		}
	}
	if len(l.spec.Banks) > 1 {
		b.WriteString(",banks=" + joinSets(l.spec.Banks))
	}
	if len(l.spec.CoilFeeds) > 0 {
		b.WriteString(",feeds=" + joinSets(l.spec.CoilFeeds))
	}
	if len(l.spec.DriverPairs) > 0 {
		b.WriteString(",drivers=" + joinSets(l.spec.DriverPairs))
	}
	if len(l.spec.CutSet) > 0 {
		b.WriteString(",cutset=" + joinCylinders(l.spec.CutSet))
	}
	return b.String()
}

func joinSets(sets [][]Cylinder) string {
	parts := make([]string, 0, len(sets))
	for _, set := range sets {
		parts = append(parts, joinCylinders(set))
	}
	return strings.Join(parts, "/")
}

func joinCylinders(cylinders []Cylinder) string {
	parts := make([]string, 0, len(cylinders))
	for _, c := range cylinders {
		parts = append(parts, strconv.Itoa(int(c)))
	}
	return strings.Join(parts, "-")
}

// MarshalText writes the form of String.
func (l Layout) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads the form of Parse; empty text gives the zero Layout.
func (l *Layout) UnmarshalText(text []byte) (err error) {
	if len(text) == 0 {
		*l = Layout{}
		return nil
	}
	*l, err = Parse(string(text))
	return err
}

// Places words a set of cylinders: "cylinder 3", "cylinders 1, 2 and 5"; empty
// for the whole engine (no cylinders, or cylinder 0).
func Places(set []Cylinder) string {
	if len(set) == 0 || set[0] == 0 {
		return ""
	}
	if len(set) == 1 {
		return "cylinder " + Listed(set)
	}
	return "cylinders " + Listed(set)
}

// Listed is a set of cylinders as a list: "3", "1, 2 and 5".
func Listed(set []Cylinder) string {
	words := make([]string, len(set))
	for i, c := range set {
		words[i] = strconv.Itoa(int(c))
	}
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
