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

// A file brought twice is one witness, and leaves nothing under way.
func TestTheSameRecordingTwiceIsOnTheCardOnce(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	var entries []any
	for _, key := range []string{"brought-once", "brought-twice"} {
		_, begun := ask(t, b, "/takes", head(t, key, nil))
		id := begun["id"].(string)
		if status, answer := ask(t, b, "/takes/"+id+"/chunks?seq=0&first=0", take.PCM(make([]float32, 48000))); status != 200 {
			t.Fatal(answer)
		}
		status, answer := ask(t, b, "/takes/"+id+"/finish", []byte(`{"chunks":1}`))
		if status != 200 {
			t.Fatal(answer)
		}
		entries = append(entries, answer["sentence"])
		if status, _ := ask(t, b, "/takes/"+id+"/chunks?seq=1&first=48000", take.PCM(make([]float32, 480))); status == 200 {
			t.Errorf("%s is still under way", key)
		}
	}
	if words := fmt.Sprint(entries[1]); !strings.Contains(words, "on the card already") {
		t.Errorf("the second time it says %q", words)
	}
	if n := strings.Count(get(t, b, "/jobs/1/card"), "sound, "); n != 1 {
		t.Errorf("%d recordings on the card, want 1", n)
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

// A phone that is behind sends several chunks at once; what does not add up is
// refused and nothing of it kept twice.
func TestChunksInOneRequest(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	_, begun := ask(t, b, "/takes", head(t, "many-chunks", nil))
	base := fmt.Sprintf("/takes/%s/chunks", begun["id"])
	data := take.PCM(make([]float32, 300))
	for _, c := range []struct {
		query string
		next  float64 // 0: refused
	}{
		{"?seq=0&first=0,100&bytes=200,200", 0}, {"?seq=0&first=0,100,x&bytes=200,200,200", 0}, {"?seq=0&first=0&bytes=99999999", 0},
		{"?seq=0&first=0,100,250&bytes=200,200,200", 3}, {"?seq=1&first=100,250,400&bytes=200,200,200", 4},
	} {
		status, answer := ask(t, b, base+c.query, data)
		if next, _ := answer["next"].(float64); next != c.next || (status == 200) != (c.next > 0) {
			t.Errorf("%s: %d %v, want next %g", c.query, status, answer, c.next)
		}
	}
	_, state := ask(t, b, base+"?seq=9&first=900", data)
	if gaps, _ := state["gaps"].([]any); len(gaps) != 2 || state["next"].(float64) != 4 {
		t.Errorf("after all: %v, want two gaps of 50 samples and chunk 4 next", state)
	}
}
