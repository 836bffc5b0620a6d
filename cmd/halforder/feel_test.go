package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"halforder/engine"
	"halforder/measure/order"
)

// table of a motion whose times are written one way or another, 5 ms apart.
func writtenMotion(header, sep string, stamp func(k int) string) string {
	out := header + "\n"
	for k := range 200 {
		out += strings.Join([]string{stamp(k), fmt.Sprint(k % 7), "1.5", fmt.Sprint(-k)}, sep) + "\n"
	}
	return out
}

// The times mean the same however a logger writes them.
func TestMotionTimesOfAnyLogger(t *testing.T) {
	begin := time.Date(2024, 2, 29, 23, 59, 59, 500e6, time.UTC)
	at := func(form string) func(int) string {
		return func(k int) string { return begin.Add(time.Duration(k) * 5 * time.Millisecond).Format(form) }
	}
	number := func(scale float64) func(int) string {
		return func(k int) string { return fmt.Sprintf("%.0f", float64(begin.UnixMilli()+int64(5*k))*scale) }
	}
	for name, text := range map[string]string{
		"seconds":          writtenMotion("time,x,y,z", ",", func(k int) string { return fmt.Sprintf("%.3f", 0.005*float64(k)) }),
		"epoch in ms":      writtenMotion("timestamp,x,y,z", ",", number(1)),
		"epoch in us":      writtenMotion("timestamp;x;y;z", ";", number(1e3)),
		"epoch in ns":      writtenMotion("t_ns,ax,ay,az", ",", number(1e6)),
		"date and time":    writtenMotion("when,x,y,z", ",", at("2006-01-02T15:04:05.000Z07:00")),
		"without zone":     writtenMotion("time,x,y,z", ",", at("2006-01-02 15:04:05.000")),
		"clock over night": writtenMotion("time;x;y;z", ";", at("15:04:05,000")),
	} {
		shakes, _, err := motionColumns{}.read(strings.NewReader(text))
		if err != nil || len(shakes) != 200 {
			t.Errorf("%s: %d samples, %v", name, len(shakes), err)
			continue
		}
		if got := shakes[199].Seconds - shakes[0].Seconds; math.Abs(got-0.995) > 1e-5 || shakes[3].Axes != [3]float64{3, 1.5, -3} {
			t.Errorf("%s: %g s, axes %v", name, got, shakes[3].Axes)
		}
	}
}

func FuzzMotionTable(f *testing.F) {
	f.Add("time,x,y,z\n0,1,2,3\n0.01,2,3,4\n0.02,1,1,1\n")
	f.Add("when;a;b;c\n12:00:00,1;1,5;2;3\n12:00:00,2;1;2;3\n")
	f.Add("t_ms\tx\ty\tz\n1\t\t2\t3\n-1\t1\tNaN\t1e300\n")
	f.Add(writtenMotion("timestamp,x,y,z", ",", func(k int) string { return fmt.Sprint(1e15 + 5e3*float64(k)) }))
	f.Add(writtenMotion("time,x,y,z", ",", func(k int) string { return fmt.Sprint(0.05 * float64(k)) }))
	layout, err := engine.Parse("i4")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		shakes, _, err := motionColumns{}.read(strings.NewReader(text))
		if err != nil {
			return
		}
		found, err := order.Feel(shakes, order.Config{Layout: layout})
		if err != nil {
			return
		}
		for _, q := range found.Quantities {
			if math.IsNaN(q.Value) || math.IsNaN(q.Low) || math.IsNaN(q.High) {
				t.Errorf("%v of %q", q, text)
			}
		}
	})
}
