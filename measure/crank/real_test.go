package crank

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// realLog reads a real recording where it is at hand. The readers stand on a
// floor above this package, hence these few lines.
func realLog(t *testing.T, name string) Recording {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "data", "crank_log", name))
	if err != nil {
		t.Skip("no shared data here: ", name)
	}
	defer f.Close()
	var rec Recording
	for s := bufio.NewScanner(f); s.Scan(); {
		line := strings.Fields(strings.ReplaceAll(s.Text(), ",", " "))
		if len(line) != 2 {
			continue
		}
		at, err := strconv.ParseFloat(line[0], 64)
		if err != nil {
			continue
		}
		switch line[1] {
		case "c":
			rec.Crank = append(rec.Crank, at)
		case "m":
			rec.Cam = append(rec.Cam, at)
		default:
			label, err := strconv.Atoi(line[1])
			if err != nil {
				t.Fatal(err)
			}
			rec.Crank, rec.Labels = append(rec.Crank, at*1e-6), append(rec.Labels, label)
		}
	}
	return rec
}

// half is one half of a recording: the answer must not hang on one moment.
func (r Recording) half(second bool) Recording {
	mid := r.Crank[len(r.Crank)/2]
	cut := func(v []float64) []float64 {
		i := slices.IndexFunc(v, func(t float64) bool { return t >= mid })
		if second {
			return v[i:]
		}
		return v[:i]
	}
	return Recording{Crank: cut(r.Crank), Cam: cut(r.Cam)}
}

func TestRealHealthyFourAccusesNobody(t *testing.T) {
	l, _ := engine.Parse("i4")
	whole := realLog(t, "four_cylinder_healthy_idle.txt")
	for i, rec := range []Recording{whole, whole.half(false), whole.half(true)} {
		r, err := Analyse(Setup{Layout: l}, rec)
		if err != nil {
			t.Fatal(err)
		}
		if r.Finding.Verdict != finding.NoMisfire || len(r.Dead())+len(r.Missing()) > 0 {
			t.Errorf("part %d: %s", i, r.Finding.Sentence)
		}
	}
}

// The name comes from the wheel table, whose line was derived from this very
// recording: that cylinder 2 is named proves the geometry, not the table. The
// pattern below needs no table.
func TestRealInjectorOffIsNamed(t *testing.T) {
	l, _ := engine.Parse("i4")
	whole := realLog(t, "four_cylinder_injector_2_off_idle.txt")
	for i, rec := range []Recording{whole, whole.half(false), whole.half(true)} {
		r, err := Analyse(Setup{Layout: l}, rec)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(r.Dead(), []engine.Cylinder{2}) {
			t.Errorf("part %d: %s", i, r.Finding.Sentence)
		}
	}
}

// One half of the recording, with its cut known, must name the other half
// without any table; and a wrong cut must name wrongly, so the test can fail.
func TestRealCutNamesTheOtherHalf(t *testing.T) {
	whole := realLog(t, "four_cylinder_injector_2_off_idle.txt")
	l, _ := engine.Parse("i4")
	for _, cut := range []engine.Cylinder{2, 3} {
		ref, err := LearnReference(Setup{Layout: l}, whole.half(false), cut)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Analyse(Setup{Layout: l, References: []Reference{ref}}, whole.half(true))
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(r.Dead(), []engine.Cylinder{cut}) {
			t.Errorf("cut %d: dead %v", cut, r.Dead())
		}
	}
}

func TestRealVTwinStumblesEarly(t *testing.T) {
	l, _ := engine.Parse("vtwin-60")
	r, err := Analyse(Setup{Layout: l}, realLog(t, "v_twin_crank_60s.csv"))
	if err != nil {
		t.Fatal(err)
	}
	early := 0
	var text []string
	for _, m := range r.Stumbles {
		if m.Seconds < 22 {
			early++
		}
		text = append(text, fmt.Sprintf("%.2f s %s −%.0f %%", m.Seconds, m.Label, 100*m.Drop))
	}
	t.Log(r.Finding.Sentence, strings.Join(text, ", "))
	// "Several stumbles in the first 22 s" (SOURCES.md).
	if early < 5 || len(r.Stumbles) > early || len(r.Dead()) > 0 {
		t.Errorf("%d stumbles, %d of them in the first 22 s; dead %v", len(r.Stumbles), early, r.Dead())
	}
}
