package engine_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"halforder/engine"

	"pgregory.net/rapid"
)

func parse(t testing.TB, text string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(text)
	if err != nil {
		t.Fatalf("Parse(%q): %v", text, err)
	}
	return l
}

func TestGenericLayouts(t *testing.T) {
	generics := engine.Generics()
	for _, g := range generics {
		l := g.Layout
		if g.Source == "" {
			t.Errorf("%s has no source", l)
		}
		if back := parse(t, l.String()); !reflect.DeepEqual(back, l) {
			t.Errorf("%s does not read back", l)
		}
		var turn engine.CrankDeg
		for k := range l.N() {
			turn += l.Interval(k)
		}
		if math.Abs(float64(turn-engine.CycleDeg)) > 1e-9 {
			t.Errorf("%s: intervals sum to %g°", l, float64(turn))
		}
	}
	for _, kind := range []string{"i3", "i4", "i5", "i6", "v6-142536", "v6-odd", "v8-18436572", "flat4", "flat6", "v10-odd", "v12", "vtwin-90"} {
		if !slices.Contains(engine.GenericNames(), kind) {
			t.Errorf("no layout %s", kind)
		}
	}
}

func TestVeeEnginesAlternateOrSplitBanks(t *testing.T) {
	for _, g := range engine.Generics() {
		if banks := g.Layout.Banks(); len(banks) == 2 && len(banks[0]) != len(banks[1]) {
			t.Errorf("%s: banks of %d and %d", g.Layout, len(banks[0]), len(banks[1]))
		}
	}
}

func TestNeighboursAndCompanions(t *testing.T) {
	i6 := parse(t, "i6")
	// Common practice: on 1-5-3-6-2-4 the pistons move in the pairs 1+6, 2+5, 3+4.
	for c, want := range map[engine.Cylinder]engine.Cylinder{1: 6, 2: 5, 3: 4, 4: 3, 5: 2, 6: 1} {
		if got, ok := i6.Companion(c); !ok || got != want {
			t.Errorf("companion of %d is %d (%v), want %d", c, got, ok, want)
		}
	}
	if before, after := i6.FiringNeighbours(3); before != 5 || after != 6 {
		t.Errorf("around 3 fire %d and %d, want 5 and 6", before, after)
	}
	if got := i6.BlockNeighbours(1); !slices.Equal(got, []engine.Cylinder{2}) {
		t.Errorf("next to 1 stands %v, want 2", got)
	}
	if got := parse(t, "v6-165432").BlockNeighbours(3); !slices.Equal(got, []engine.Cylinder{1, 5}) {
		t.Errorf("next to 3 in its bank stand %v, want 1 and 5", got)
	}
	for _, uneven := range []string{"i5", "i3", "v6-odd", "vtwin-45"} {
		if c, ok := parse(t, uneven).Companion(1); ok {
			t.Errorf("%s: cylinder 1 has companion %d, want none", uneven, c)
		}
	}
}

func TestGroups(t *testing.T) {
	l := parse(t, "1-4-2-5-3-6,banks=1-2-3/4-5-6,feeds=1-2-3/4-5-6,drivers=1-4/2-5/3-6,cutset=4-5-6")
	count := map[engine.GroupKind]int{}
	for _, g := range l.Groups() {
		count[g.Kind]++
	}
	want := map[engine.GroupKind]int{engine.BankGroup: 2, engine.CompanionGroup: 3, engine.CoilFeedGroup: 2, engine.DriverGroup: 3, engine.CutSetGroup: 1}
	if !reflect.DeepEqual(count, want) {
		t.Errorf("groups %v, want %v", count, want)
	}
}

func TestParseRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                        "unknown engine",
		"v9":                      "unknown engine",
		"1-2-2":                   "twice",
		"1-2-5":                   "does not exist",
		"1-2@0-900":               "below 720",
		"1-2@0-NaN":               "not a firing angle",
		"1-2@10-300":              "first must be 0",
		"1-2@0":                   "1 given for 2",
		"1-2,banks=1":             "missing",
		"1-2,drivers=1-9":         "does not exist",
		"1-2,colour=1":            "expected banks",
		"1-2,banks=x":             "not a cylinder number",
		"1-2,feeds=1-1":           "twice",
		"1-2,cutset=1/2":          "one set expected",
		strings.Repeat("1-", 500): "unknown engine",
		"1-2-3-4-5-6-7-8-9-10-11-12-13-14-15-16-17": "1 to 16",
	} {
		if _, err := engine.Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Parse(%q): error %v, want one that says %q", text, err, want)
		}
	}
}

func TestAnyEngineReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, engine.MaxCylinders).Draw(t, "n")
		spec := engine.Spec{Order: rapid.Permutation(numbers(n)).Draw(t, "order")}
		if rapid.Bool().Draw(t, "uneven") {
			spec.Angles = drawAngles(t, n)
		}
		l, err := engine.New(spec)
		if err != nil {
			t.Fatal(err)
		}
		back, err := engine.Parse(l.String())
		if err != nil {
			t.Fatal(err)
		}
		if back.String() != l.String() || !slices.Equal(back.Order(), l.Order()) {
			t.Fatalf("%s became %s", l, back)
		}
		for _, c := range l.Cylinders() {
			if mate, ok := l.Companion(c); ok {
				if twin, _ := l.Companion(mate); l.Angle(twin) != l.Angle(c) {
					t.Fatalf("%s: companion of companion of %d is %d", l, c, twin)
				}
			}
		}
	})
}

func numbers(n int) []engine.Cylinder {
	var out []engine.Cylinder
	for c := range n {
		out = append(out, engine.Cylinder(c+1))
	}
	return out
}

func drawAngles(t *rapid.T, n int) []engine.CrankDeg {
	angles := []engine.CrankDeg{0}
	for range n - 1 {
		angles = append(angles, engine.CrankDeg(rapid.Float64Range(1, 719).Draw(t, "angle")))
	}
	slices.Sort(angles)
	return angles
}

func FuzzParse(f *testing.F) {
	for _, name := range engine.GenericNames() {
		f.Add(name)
	}
	f.Add("1-2@0-405,banks=1/2,feeds=1-2,drivers=1/2,cutset=2")
	f.Fuzz(func(t *testing.T, text string) {
		l, err := engine.Parse(text)
		if err != nil {
			return
		}
		if back, err := engine.Parse(l.String()); err != nil || back.String() != l.String() {
			t.Fatalf("%q became %q, which reads as %q (%v)", text, l, back, err)
		}
	})
}
