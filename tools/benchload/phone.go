package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

	"halforder/job"
	"halforder/web/take"
)

const (
	rate  = 48000
	piece = rate / 10
	// piecesToBegin pass before speed can be said for the first time.
	piecesToBegin = 8
)

// phone streams one engine to one job.
type phone struct {
	base   string
	number int
	sound  []float32
	client *http.Client
	job    string
	id     string
	sent   []byte

	mu   sync.Mutex
	made map[uint64]time.Time // end sample of a piece: when it was recorded
	late lateness
}

func (p *phone) openJob() error {
	answer, err := p.client.PostForm(p.base+"/new", form("car", fmt.Sprint("phone ", p.number), "engine", "i4", "ignition", "coil-on-plug", "injection", "port", "complaint", "rough", "regime", "idle"))
	if err != nil {
		return err
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("job of phone %d: %s", p.number, answer.Status)
	}
	p.job = answer.Request.URL.Path[len("/jobs/"):]
	p.made = map[uint64]time.Time{}
	return nil
}

// ask posts until the bench answers with something that is no failure of the
// way there.
func (p *phone) ask(path string, body []byte) map[string]any {
	for {
		r, err := http.NewRequest("POST", p.base+path, bytes.NewReader(body))
		if err != nil {
			panic(err)
		}
		r.Header.Set("Accept", "application/json")
		answer, err := p.client.Do(r)
		if err == nil {
			data, readErr := io.ReadAll(answer.Body)
			answer.Body.Close()
			var out map[string]any
			if readErr == nil && answer.StatusCode < 500 && answer.StatusCode != http.StatusTooManyRequests && json.Unmarshal(data, &out) == nil {
				out["status"] = float64(answer.StatusCode)
				return out
			}
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// stream records in real time and sends as a phone does: in order, from what
// the bench wants next, keeping everything until it is safe.
func (p *phone) stream() {
	head, _ := json.Marshal(take.Head{Key: fmt.Sprintf("load-phone-%d", p.number), Job: jobNumber(p.job), Sensor: take.Sound, RateHz: rate, Regime: "idle", Device: fmt.Sprint("phone ", p.number), Stops: []string{"flashing", "fuel-leak"}})
	p.id = p.ask("/takes", head)["id"].(string)
	began := time.Now()
	pieces := len(p.sound) / piece
	for next := 0; next < pieces; {
		due := began.Add(time.Duration(next+1) * 100 * time.Millisecond)
		time.Sleep(time.Until(due))
		first := uint64(next * piece)
		data := take.PCM(p.sound[first : first+piece])
		p.mu.Lock()
		if _, known := p.made[first+piece]; !known {
			p.made[first+piece] = due
			if next >= piecesToBegin {
				p.late.waiting = append(p.late.waiting, due)
			}
		}
		p.mu.Unlock()
		ack := p.ask(fmt.Sprintf("/takes/%s/chunks?seq=%d&first=%d", p.id, next, first), data)
		if n, ok := ack["next"].(float64); ok {
			next = int(n)
		}
	}
	p.sent = take.PCM(p.sound[:pieces*piece])
	p.ask("/takes/"+p.id+"/finish", fmt.Appendf(nil, `{"chunks":%d}`, pieces))
}

// watch is the tablet beside it.
func (p *phone) watch(ctx context.Context) {
	for ctx.Err() == nil {
		r, err := http.NewRequestWithContext(ctx, "GET", p.base+"/jobs/"+p.job+"/live", nil)
		if err != nil {
			panic(err)
		}
		if answer, err := http.DefaultTransport.RoundTrip(r); err == nil {
			p.read(answer.Body)
			answer.Body.Close()
		}
		time.Sleep(100 * time.Millisecond)
	}
}

func (p *phone) read(body io.Reader) {
	lines := bufio.NewScanner(body)
	lines.Buffer(make([]byte, 1<<16), 1<<20)
	kind := ""
	for lines.Scan() {
		text := lines.Text()
		if k, ok := strings.CutPrefix(text, "event: "); ok {
			kind = k
		}
		data, ok := strings.CutPrefix(text, "data: ")
		if !ok || kind != "meter" && kind != "level" {
			continue
		}
		var m struct {
			Samples uint64 `json:"samples"`
		}
		if json.Unmarshal([]byte(data), &m) == nil {
			p.saw(kind, m.Samples)
		}
	}
}

// saw notes how long after the recording of its newest piece an event came.
func (p *phone) saw(kind string, samples uint64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if made, ok := p.made[samples]; ok {
		p.late.note(kind, made, time.Now())
	}
}

// compare reads the recording back from the store.
func (p *phone) compare(s *server) (lost, gaps int, err error) {
	ctx := context.Background()
	card, err := job.Book{Store: s.store, Now: time.Now}.Card(ctx, job.ID(jobNumber(p.job)))
	if err != nil {
		return 0, 0, err
	}
	if len(card.Recordings) != 1 {
		return len(p.sound), 0, fmt.Errorf("phone %d: %d recordings on the card", p.number, len(card.Recordings))
	}
	r, err := s.store.OpenRecording(ctx, card.Recordings[0].What.SHA256)
	if err != nil {
		return 0, 0, err
	}
	defer r.Close()
	data, err := io.ReadAll(r)
	if err != nil {
		return 0, 0, err
	}
	const wavHead = 44
	kept := data[wavHead:]
	for i := 0; i+1 < len(p.sent); i += 2 {
		if i+1 >= len(kept) || kept[i] != p.sent[i] || kept[i+1] != p.sent[i+1] {
			lost++
		}
	}
	for _, n := range card.Findings[0].What.Finding.Notes {
		if strings.HasPrefix(n, "nothing was recorded for") {
			gaps++
		}
	}
	return lost, gaps, nil
}

func jobNumber(text string) (n int64) {
	fmt.Sscan(text, &n)
	return n
}
