package table

import (
	"math"
	"strings"
	"testing"
)

func TestClockSeconds(t *testing.T) {
	for text, want := range map[string]float64{"14:05:12.5": 50712.5, "2:05,5": 125.5, "2026-03-01T00:00:10Z": 10, "2026-03-01 00:01:10.25+02:00": 70.25} {
		if got, ok := ClockSeconds(text); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("%q: %v %v, expected %v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "12.5", "12:61", "1:2:3:4", "x:10", "1.5:10", "-1:10", "NaN:1", "1:NaN"} {
		if got, ok := ClockSeconds(text); ok {
			t.Errorf("%q was read as %v s", text, got)
		}
	}
}

// A clock that passes midnight goes on.
func TestClockColumn(t *testing.T) {
	read, err := Read(strings.NewReader("time,rpm\n23:59:59.5,750\n00:00:00.5,751\n"))
	if err != nil {
		t.Fatal(err)
	}
	clock, err := read.TimeColumn()
	if err != nil {
		t.Fatal(err)
	}
	times, err := clock.Times("")
	if err != nil || times[1]-times[0] != 1 {
		t.Errorf("times %v, %v", times, err)
	}
}

func TestEpochTimes(t *testing.T) {
	for _, value := range []float64{1.7e9, 1.7e12, 1.7e15, 1.7e18} {
		times, err := Column{Name: "timestamp", Numbers: []float64{value}}.Times("")
		if err != nil || math.Abs(times[0]-1.7e9) > 1 {
			t.Errorf("%g: %v %v", value, times, err)
		}
	}
}
