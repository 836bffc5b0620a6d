package web_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"halforder/web/take"
)

// ask posts as a script does and gives status and answer.
func ask(t testing.TB, b *bench, path string, body []byte) (int, map[string]any) {
	t.Helper()
	r, err := http.NewRequest("POST", b.url(path), bytes.NewReader(body))
	must(t, err)
	r.Header.Set("Accept", "application/json")
	answer, err := http.DefaultClient.Do(r)
	must(t, err)
	defer answer.Body.Close()
	data, err := io.ReadAll(answer.Body)
	must(t, err)
	out := map[string]any{}
	must(t, json.Unmarshal(data, &out))
	return answer.StatusCode, out
}

func head(t testing.TB, key string, more func(*take.Head)) []byte {
	t.Helper()
	h := take.Head{Key: key, Job: 1, Sensor: take.Sound, RateHz: 48000, Stops: []string{"flashing", "fuel-leak"}}
	if more != nil {
		more(&h)
	}
	data, err := json.Marshal(h)
	must(t, err)
	return data
}

// No page needs to be honest: the bench itself refuses to record or to cut a
// running engine before each hard stop of that step is confirmed.
func TestRunningEngineWaitsForTheStops(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", url.Values{"hybrid": {"yes"}})
	for name, c := range map[string]struct {
		change func(*take.Head)
		status int
		words  string
	}{
		"nothing ticked":  {func(h *take.Head) { h.Stops = nil }, 422, "look first, then tick the stop"},
		"one is missing":  {func(h *take.Head) { h.Stops = []string{"flashing", "hybrid"} }, 422, "fuel"},
		"not the hybrid":  {nil, 422, "Hybrid"},
		"motion as well":  {func(h *take.Head) { h.Sensor, h.Stops = take.Motion, nil }, 422, "look first"},
		"all ticked":      {func(h *take.Head) { h.Stops = append(h.Stops, "hybrid") }, 200, ""},
		"file from afar":  {func(h *take.Head) { h.Stops, h.Flags = nil, map[string]string{"file": "x.wav"} }, 200, ""},
		"motion, ticked":  {func(h *take.Head) { h.Sensor, h.Stops = take.Motion, append(h.Stops, "hybrid") }, 200, ""},
		"stops by number": {func(h *take.Head) { h.Stops = make([]string, 30) }, 422, "look first"},
	} {
		status, answer := ask(t, b, "/takes", head(t, "key "+name, c.change))
		if words, _ := answer["error"].(string); status != c.status || !strings.Contains(words, c.words) {
			t.Errorf("%s: %d %v, want %d with %q", name, status, answer, c.status, c.words)
		}
	}
	if status, answer := ask(t, b, "/jobs/1/cut/start", []byte(`{"means":"injector","stops":["flashing","fuel-leak"]}`)); status != 422 || !strings.Contains(fmt.Sprint(answer), "Hybrid") {
		t.Errorf("a cut-out starts without one stop: %d %v", status, answer)
	}
}

// A phone that lost the answer asks again, even at once: the recording is on
// the card once.
func TestFinishingTwiceKeepsOnce(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	_, begun := ask(t, b, "/takes", head(t, "finish-twice", nil))
	id := begun["id"].(string)
	if status, answer := ask(t, b, "/takes/"+id+"/chunks?seq=0&first=0", take.PCM(make([]float32, 48000))); status != 200 {
		t.Fatal(answer)
	}
	entries := make([]any, 4)
	var wait sync.WaitGroup
	for i := range entries {
		wait.Go(func() {
			_, answer := ask(t, b, "/takes/"+id+"/finish", []byte(`{"chunks":1}`))
			entries[i] = answer["entry"]
		})
	}
	wait.Wait()
	for _, e := range entries {
		if e == nil || e != entries[0] {
			t.Errorf("the answers differ: %v", entries)
		}
	}
	answer, err := http.Get(b.url("/jobs/1/card"))
	must(t, err)
	page, _ := io.ReadAll(answer.Body)
	answer.Body.Close()
	if n := strings.Count(string(page), "<small>recording"); n != 1 {
		t.Errorf("%d recordings on the card, want 1", n)
	}
}
