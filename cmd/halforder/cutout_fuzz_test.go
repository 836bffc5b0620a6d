package main

import (
	"math"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/measure/cutout"
)

// Whatever a marks file holds, it is read or refused, and what was read can be
// analysed or refused.
func FuzzMarks(f *testing.F) {
	for _, text := range []string{"12.5 off 3\n17 on\n", "8 unplug injector 1\n12 reconnect injector 1\n20 end", "# remark\n1e9 off 1+4", "time,what,cylinder\n10,5;OFF;3\n1:17,on", "x off 3", "3 off", "NaN off 1", "\x00 off \xff"} {
		f.Add(text)
	}
	l, err := engine.Parse("i4")
	if err != nil {
		f.Fatal(err)
	}
	speed := cutout.Track{}
	for i := range 200 {
		speed.T, speed.Y = append(speed.T, float64(i)/5), append(speed.Y, 750+float64(i*7919%11))
	}
	f.Fuzz(func(t *testing.T, text string) {
		marks, err := parseMarks(text, "marks.txt")
		if err != nil {
			return
		}
		for _, m := range marks {
			if math.IsNaN(m.At) || math.IsInf(m.At, 0) || !m.On && len(m.Cylinders) == 0 {
				t.Fatalf("%q gave the mark %+v", text, m)
			}
		}
		if len(marks) > 20 {
			return // work, not danger
		}
		if r, err := cutout.Analyse(cutout.Recording{Layout: l, Speed: speed, Marks: marks}); err == nil && r.Patterns.Check(4) != nil {
			t.Errorf("%q: %v", text, r.Patterns.Check(4))
		}
	})
}

func FuzzCalled(f *testing.F) {
	for _, text := range []string{"1,2,3,4", "1+4, 2+3", "", "0", "-1,x", "9999999999999999999"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		sets, err := parseCalled(text)
		for _, set := range sets {
			if err == nil && len(set) == 0 {
				t.Errorf("%q gave an empty cut", text)
			}
		}
	})
}

// Tables with any columns: a recording or a refusal.
func FuzzCutoutTable(f *testing.F) {
	for _, text := range []string{"time_s,rpm\n0,750\n0.1,751\n", "t,name,value\n0,rpm,700\n0,air_g_s,2\n", "time,rpm\n14:05:12.5,750\n14:05:12.6,751\n", "time,x,y,z\n0,1,2,3\n0.01,1,2,4\n", "a,b\n1,2"} {
		f.Add(text)
	}
	l, err := engine.Parse("i4")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		rec, _, err := cutoutColumns{}.table(strings.NewReader(text), l)
		if err == nil && len(rec.Speed.T) != len(rec.Speed.Y) {
			t.Errorf("%q: %d times and %d speeds", text, len(rec.Speed.T), len(rec.Speed.Y))
		}
	})
}
