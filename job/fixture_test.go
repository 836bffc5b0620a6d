package job

import (
	"testing"
	"time"

	"halforder/engine"
	"halforder/reason/fault"
)

var moment = time.Date(2026, 3, 9, 8, 30, 0, 0, time.UTC)

func layout(t testing.TB, text string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func opened(t testing.TB) *Opened {
	return &Opened{Car: "Tarn Corvid", Engine: layout(t, "i6"), Ignition: fault.CoilOnPlug, Injection: fault.Port,
		Access: fault.Easy, Complaint: fault.Rough, Regime: fault.Idle, Words: "shakes at the lights"}
}

// events numbers bodies from 1, the opening first.
func events(t testing.TB, bodies ...Body) []Event {
	t.Helper()
	out := []Event{{Seq: 1, At: moment, Body: opened(t)}}
	for i, b := range bodies {
		out = append(out, Event{Seq: int64(i) + 2, At: moment, Body: b})
	}
	return out
}

func fold(t testing.TB, bodies ...Body) *Card {
	t.Helper()
	c, err := Fold(1, events(t, bodies...))
	if err != nil {
		t.Fatal(err)
	}
	return c
}
