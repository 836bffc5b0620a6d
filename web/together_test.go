package web_test

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"halforder/practice"
	"halforder/web/take"
)

// events gives the kinds of what is said in job 1 until ctx ends.
func events(t testing.TB, ctx context.Context, b *bench) <-chan string {
	t.Helper()
	r, err := http.NewRequestWithContext(ctx, "GET", b.url("/jobs/1/live"), nil)
	must(t, err)
	answer, err := http.DefaultClient.Do(r)
	must(t, err)
	out := make(chan string, 1000)
	go func() {
		defer answer.Body.Close()
		defer close(out)
		for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
			if kind, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				select {
				case out <- kind:
				default:
				}
			}
		}
	}()
	return out
}

// TestSoundAndMotionTogether records one practice engine with both sensors of a
// phone: live and on the card they speak together, and count once.
func TestSoundAndMotionTogether(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	cfg := faulty(t, "i4", "coil-open@3")
	rec, _, err := practice.Run(cfg, practice.Watch(24), practice.Sensors{Sound: &practice.SoundSensor{Hz: 16000}, Phone: &practice.PhoneSensor{Hz: 100}})
	must(t, err)
	var moves []take.Move
	for _, s := range rec.Phone {
		moves = append(moves, take.Move(s))
	}

	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	said := events(t, ctx, b)
	_, sound := ask(t, b, "/takes", head(t, "together-sound", func(h *take.Head) { h.RateHz = 16000 }))
	_, motion := ask(t, b, "/takes", head(t, "together-motion", func(h *take.Head) { h.Sensor = take.Motion }))
	const pieces = 12
	for i := range pieces { // both at once, as a phone does
		x := rec.Sound.X[i*len(rec.Sound.X)/pieces : (i+1)*len(rec.Sound.X)/pieces]
		at := i * len(moves) / pieces
		m := moves[at : (i+1)*len(moves)/pieces]
		ask(t, b, fmt.Sprintf("/takes/%s/chunks?seq=%d&first=%d", sound["id"], i, i*len(rec.Sound.X)/pieces), take.PCM(x))
		ask(t, b, fmt.Sprintf("/takes/%s/chunks?seq=%d&first=%d", motion["id"], i, at), take.MoveBytes(m))
		time.Sleep(120 * time.Millisecond)
	}
	live := time.After(10 * time.Second)
	for kind := ""; kind != "joined"; {
		select {
		case kind = <-said:
		case <-live:
			t.Fatal("the live view never joins what is heard and felt")
		}
	}
	ask(t, b, fmt.Sprintf("/takes/%s/finish", sound["id"]), []byte(`{}`))
	_, answer := ask(t, b, fmt.Sprintf("/takes/%s/finish", motion["id"]), []byte(`{}`))
	if sentence, _ := answer["sentence"].(string); !strings.Contains(sentence, "sound and motion") {
		t.Errorf("the card says %v", answer)
	}
	page := get(t, b, "/jobs/1/listen")
	if n := strings.Count(page, `class="sheet finding"`); n != 1 {
		t.Errorf("%d findings stand on the card, want the joint one alone", n)
	}
	for _, want := range []string{"sound: ", "motion: "} {
		if !strings.Contains(page, want) {
			t.Errorf("the joint finding does not say what %s found", want)
		}
	}
	if card := get(t, b, "/jobs/1/card"); !strings.Contains(card, "joined with what the other sensor found") {
		t.Error("the card does not tell why the first finding was taken back")
	}
}
