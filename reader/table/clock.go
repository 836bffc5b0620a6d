package table

import (
	"math"
	"strconv"
	"strings"
)

const day = 86400.0 // s

// ClockSeconds reads a time as on a clock: "14:05:12.5" since midnight, "2:05.5" in
// minutes and seconds, with point or comma, and with a date before it (ISO 8601,
// "2026-03-01T14:05:12.5Z") whose day and zone are passed over. It returns seconds.
func ClockSeconds(text string) (float64, bool) {
	if i := strings.LastIndexAny(text, "T "); i >= 0 && strings.ContainsAny(text[:i], "-./") {
		text = text[i+1:]
	}
	text = strings.TrimRight(text, "Zz")
	if i := strings.IndexAny(text, "+-"); i > 0 {
		text = text[:i]
	}
	parts := strings.Split(text, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false
	}
	var seconds float64
	for i, part := range parts {
		last := i == len(parts)-1
		if last {
			part = strings.Replace(part, ",", ".", 1)
		}
		v, err := strconv.ParseFloat(part, 64)
		whole := v == math.Trunc(v)
		if err != nil || !(v >= 0) || i > 0 && v >= 60 || !last && !whole || v >= day {
			return 0, false
		}
		seconds = 60*seconds + v
	}
	return seconds, true
}

// clockTimes reads a column of clock times, which may pass midnight; ok is false
// when one of them is none.
func clockTimes(texts []string) (out []float64, ok bool) {
	days := 0.0
	for i, text := range texts {
		v, ok := ClockSeconds(text)
		if !ok {
			return nil, false
		}
		if i > 0 && v+days < out[i-1]-day/2 {
			days += day
		}
		out = append(out, v+days)
	}
	return out, len(out) > 0
}

// Times without a unit that are larger than these, in the past half century, are
// thousandths, millionths and billionths of a second since an epoch.
var epochs = []struct {
	above float64
	unit  string
}{{1e17, "ns"}, {1e14, "us"}, {1e11, "ms"}}

func epochUnit(first float64) string {
	for _, e := range epochs {
		if first > e.above {
			return e.unit
		}
	}
	return "s"
}
