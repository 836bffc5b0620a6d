package main

import (
	"math"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/measure/cutout"
)

// Marks and recordings as people and loggers write them.
func TestMarksAsWritten(t *testing.T) {
	for _, text := range []string{"10.5 off 3\n77 on", "10,5 off 3\r\n77 on\r\n", "time,what,cylinder\n10.5,off,3\n77,on\n", "10,5;OFF;3\n77;ON", "0:10.5, off, 3\n1:17 on", "\ufeff10.5 off cylinder 3\n77 on"} {
		marks, err := parseMarks(text, "marks.txt")
		if err != nil || len(marks) != 2 || marks[0].At != 10.5 || marks[1].At != 77 || marks[0].Cylinders[0] != 3 || !marks[1].On {
			t.Errorf("%q: %+v, %v", text, marks, err)
		}
	}
	for _, text := range []string{"", "hello there", "10.5 off 3\nhello there", "10.5 off three"} {
		if marks, err := parseMarks(text, "marks.txt"); err == nil {
			t.Errorf("%q was read as %+v", text, marks)
		}
	}
}

func TestCalledAsWritten(t *testing.T) {
	for _, text := range []string{"1,2,3+4", "1 2 3+4", "1; 2; 3 + 4", " 1, 2 ,3+4 "} {
		sets, err := parseCalled(text)
		if err != nil || len(sets) != 3 || len(sets[2]) != 2 || sets[2][1] != 4 {
			t.Errorf("%q: %v, %v", text, sets, err)
		}
	}
	if sets, err := parseCalled("1,,2"); err == nil {
		t.Errorf("a cut of nothing was read as %v", sets)
	}
}

// Clocks that count from midnight or from an epoch, and marks of either kind.
func TestClocksOfRecordings(t *testing.T) {
	l, err := engine.Parse("i4")
	if err != nil {
		t.Fatal(err)
	}
	for _, times := range []string{"12:00:00 12:00:00.5 12:00:01", "2026-12-01T12:00:00 2026-12-01T12:00:00.5 2026-12-01T12:00:01", "1780000000 1780000000.5 1780000001", "1780000000000 1780000000500 1780000001000"} {
		text := "timestamp,Engine speed (1/min)\n"
		for at := range strings.FieldsSeq(times) {
			text += at + ",750\n"
		}
		rec, began, err := cutoutColumns{}.table(strings.NewReader(text), l)
		if err != nil || len(rec.Speed.T) != 3 || math.Abs(rec.Speed.T[2]-1) > 1e-6 || began < 43200 {
			t.Errorf("%s: %v from %v, %v", times, rec.Speed.T, began, err)
			continue
		}
		for _, at := range []float64{0.5, began + 0.5} {
			marks := []cutout.Mark{{At: at, Cylinders: []engine.Cylinder{1}}}
			if fromBeginningToo(marks, began); math.Abs(marks[0].At-0.5) > 1e-6 {
				t.Errorf("%s: a mark at %v s came to %v s", times, at, marks[0].At)
			}
		}
	}
}

func TestTwoColumnsOfSpeedAreNoEdges(t *testing.T) {
	for head, edges := range map[string]bool{"0.1,750\n0.2,751\n0.3,749\n": false, "Zeit;Drehzahl\n0,1;750\n0,2;751\n": false, "0.1 c\n0.2 c\n": true, "0.1\n0.2\n": true, "c,0.1\nc,0.2\n": true} {
		if got := (cutoutColumns{}).isEdges([]byte(head)); got != edges {
			t.Errorf("%q: edges %v", head, got)
		}
	}
}
