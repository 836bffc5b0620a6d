package report

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
)

// cardOf is the card of a rough six after some events.
func cardOf(t *testing.T, bodies ...job.Body) *job.Card {
	t.Helper()
	six, err := engine.Parse("i6")
	if err != nil {
		t.Fatal(err)
	}
	all := append([]job.Body{&job.Opened{Car: "Tarn Corvid", Engine: six, Ignition: fault.CoilOnPlug, Injection: fault.Port, Access: fault.Easy,
		Complaint: fault.Rough, Regime: fault.Idle, Words: "shakes at the lights"}}, bodies...)
	var events []job.Event
	for i, b := range all {
		events = append(events, job.Event{Seq: int64(i) + 1, At: time.Date(2026, 3, 9, 8, 30, 0, 0, time.UTC), Body: b})
	}
	card, err := job.Fold(1, events)
	if err != nil {
		t.Fatal(err)
	}
	return card
}

var (
	newCoil = &job.Repaired{Part: fault.Coil, Cylinder: 3, NewPart: "coil G", Minutes: 20, Cash: 6400}
	held    = &job.Proved{Regime: fault.Idle, WatchedS: 600, Proven: true, Confidence: 0.995}
	coded   = &job.Coded{Codes: []string{"P0303"}}
)

func TestSheetTellsTheCustomerHowFarItIs(t *testing.T) {
	catalogue, err := fault.ForShop(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		bodies       []job.Body
		want, absent []string
	}{
		{nil, []string{"shakes at the lights", "not certain yet", "Nothing has been repaired", "do not drive on"}, []string{"What we did", "still stored"}},
		{[]job.Body{coded, newCoil}, []string{"coil renewed (cylinder 3)", "Not shown yet", "still stored", "64.00"}, []string{"no longer shows"}},
		{[]job.Body{newCoil, held, &job.Closed{Cause: "coil failed"}}, []string{"coil failed", "no longer shows (over 99 % sure)"}, []string{"do not drive on", "Not shown yet"}},
		{[]job.Body{newCoil, &job.Closed{}}, []string{"Not shown yet"}, []string{"no longer shows"}},
	} {
		var b bytes.Buffer
		if err := HTML(&b, New(Job{Card: cardOf(t, c.bodies...), Catalogue: catalogue})); err != nil {
			t.Fatal(err)
		}
		_, page, _ := strings.Cut(b.String(), "For the customer</h1>")
		page, _, _ = strings.Cut(page, "The workshop&#39;s record")
		page, _, _ = strings.Cut(page, "The workshop's record")
		for _, want := range c.want {
			if !strings.Contains(page, want) {
				t.Errorf("after %d entries the sheet does not say %q:\n%s", len(c.bodies), want, page)
			}
		}
		for _, absent := range c.absent {
			if strings.Contains(page, absent) {
				t.Errorf("after %d entries the sheet says %q", len(c.bodies), absent)
			}
		}
	}
}

func TestNothingNextFollowsTheJob(t *testing.T) {
	for _, c := range []struct {
		bodies []job.Body
		want   string
	}{
		{nil, "look outside the list"},
		{[]job.Body{coded, newCoil, held}, "proven: clear the codes, hand over"},
		{[]job.Body{newCoil, held}, "proven: hand over"},
		{[]job.Body{newCoil, held, &job.Closed{}}, "nothing is left to check"},
		{[]job.Body{newCoil, &job.Closed{}}, "without a proven repair"},
	} {
		if got := NothingNext(cardOf(t, c.bodies...)); !strings.Contains(got, c.want) {
			t.Errorf("after %d entries: %q, want %q", len(c.bodies), got, c.want)
		}
	}
}
