package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"halforder/measure/crank"
)

func TestCrankTablesOfAnyShape(t *testing.T) {
	want := crank.Recording{Crank: []float64{0.001, 0.002, 0.003}, Cam: []float64{0.0015}}
	for name, c := range map[string]struct {
		text string
		pick crankPick
	}{
		"a column each":           {"crank_ms,cam_ms\n1,1.5\n2,\n3,\n", crankPick{}},
		"a column each, by name":  {"A;B\n1,0;1,5\n2,0;\n3,0;\n", crankPick{Crank: "A", Cam: "B", Unit: "ms"}},
		"channels by name":        {"time_ms,event\n1,crank\n1.5,cam\n2,crank\n3,crank\n", crankPick{}},
		"channels by number":      {"time_ms,nr\n1,0\n1.5,1\n2,0\n3,0\n", crankPick{Crank: "0", Cam: "1"}},
		"a column of channels":    {"time_ms,channel\n1,4\n1.5,2\n2,4\n3,4\n", crankPick{Cam: "2"}},
		"time where it is picked": {"x,event\n1,crank\n1.5,cam\n2,crank\n3,crank\n", crankPick{Time: "x", Unit: "ms"}},
	} {
		path := filepath.Join(t.TempDir(), "edges.csv")
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		rec, _, err := c.pick.read([]string{path})
		if err != nil || !nearly(rec.Crank, want.Crank) || !nearly(rec.Cam, want.Cam) {
			t.Errorf("%s: read %v, error %v", name, rec, err)
		}
	}
}

// Files that cannot be read say in one line what is wrong with them.
func TestCrankFilesThatCannotBeRead(t *testing.T) {
	trace := func(head string, at func(i int) float64, value string) string {
		text := head + "\n"
		for i := range 200 {
			text += fmt.Sprintf("%g,%s\n", at(i), value)
		}
		return text
	}
	rising := func(i int) float64 { return float64(i) / 1000 }
	for name, c := range map[string]struct{ file, text, want string }{
		"swapped":              {"e.txt", "1 cam\n1.1 cam\n1.2 cam\n1.3 cam\n1.4 crank\n", "swapped?"},
		"a recording in two":   {"t.csv", trace("time_s,crank", func(i int) float64 { return float64(i%100) / 1000 }, "0.5"), "go back from 0.099 to 0 s at line 101"},
		"a clock that stands":  {"t.csv", trace("time_s,crank", func(int) float64 { return 1 }, "0.5"), "stand still"},
		"milliseconds as such": {"t.csv", trace("time_s,crank", func(i int) float64 { return float64(i) }, "0.5"), "1 samples a second"},
		"nothing but NaN":      {"t.csv", trace("time_s,crank", rising, "NaN"), "no crank edges"},
	} {
		path := filepath.Join(t.TempDir(), c.file)
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		rec, _, err := (&crankPick{Tick: 1}).read([]string{path})
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: read %d edges, error %v, want %q", name, len(rec.Crank), err, c.want)
		}
	}
}

func nearly(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return x-y < 1e-12 && y-x < 1e-12 })
}
