package crank

import (
	"bufio"
	"fmt"
	"os"
	"strings"
	"testing"

	"halforder/engine"
)

func readEdges(t *testing.T, path string) Recording {
	f, err := os.Open(path)
	if err != nil {
		t.Skip("no shared data here")
	}
	defer f.Close()
	var rec Recording
	for s := bufio.NewScanner(f); s.Scan(); {
		var x float64
		var ch string
		if n, _ := fmt.Sscan(strings.TrimSpace(s.Text()), &x, &ch); n == 2 {
			if ch == "c" {
				rec.Crank = append(rec.Crank, x)
			} else {
				rec.Cam = append(rec.Cam, x)
			}
		}
	}
	return rec
}

func show(t *testing.T, r *Result) {
	t.Log(r.Finding.Verdict, r.Finding.Sentence)
	for _, n := range r.Finding.Notes {
		t.Log("  note:", n)
	}
	for _, q := range r.Finding.Quantities {
		t.Logf("  %s %.4g [%.4g %.4g] %s", q.Name, q.Value, q.Low, q.High, q.Unit)
	}
	t.Log(r.Cam)
}

func TestTryReal(t *testing.T) {
	l, _ := engine.Parse("i4")
	for _, f := range []string{"healthy_idle", "injector_2_off_idle"} {
		rec := readEdges(t, "../../../../shared/data/crank_log/four_cylinder_"+f+".txt")
		r, err := Analyse(Setup{Layout: l}, rec)
		if err != nil {
			t.Fatal(err)
		}
		show(t, r)
	}
}

func TestTrySim(t *testing.T) {
	for _, rpm := range []float64{800, 2000, 3000, 6000} {
		s := defaultSim("i4", "60-2", rpm)
		for _, mode := range []string{"healthy", "dead3", "miss"} {
			switch mode {
			case "dead3":
				s.dead = map[engine.Cylinder]bool{3: true}
			case "miss":
				s.dead = nil
				s.missP = map[engine.Cylinder]float64{2: 0.1}
			}
			rec, _ := s.run()
			r, err := Analyse(Setup{Layout: s.layout, Wheel: s.wheel, References: []Reference{{1, s.topsAt - 300 + 720, FromCam}}}, rec)
			if err != nil {
				t.Fatal(err)
			}
			t.Log("=====", rpm, mode)
			show(t, r)
		}
	}
}
