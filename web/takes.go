package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"halforder/job"
	"halforder/reason/fault"
	"halforder/web/guard"
	"halforder/web/take"
)

func (b *Bench) liveRoutes(mux *http.ServeMux) {
	for pattern, h := range map[string]handler{
		"GET /sensor": b.sensorPage, "POST /takes": b.beginTake, "GET /takes/{take}": b.takeState,
		"POST /takes/{take}/chunks": b.takeChunk, "POST /takes/{take}/finish": b.finishTake, "POST /takes/{take}/drop": b.dropTake,
		"POST /jobs/{id}/cut/{do}": b.cutDo,
	} {
		mux.Handle(pattern, b.serve(b.only(senders, h)))
	}
	for pattern, h := range map[string]handler{
		"GET /jobs/{id}/listen": b.listenPage, "GET /jobs/{id}/cut": b.cutPage, "GET /jobs/{id}/files": b.filesPage,
	} {
		mux.Handle(pattern, b.serve(b.only(viewers, h)))
	}
	mux.Handle("GET /jobs/{id}/live", b.serve(b.only(anybody, b.watch)))
	mux.Handle("POST /practice", b.serve(b.only(workers, b.newPractice)))
	mux.Handle("POST /jobs/{id}/practice", b.serve(b.only(workers, b.drivePractice)))
	mux.Handle("POST /jobs/{id}/table", b.serve(b.only(workers, b.enterTable)))
}

// readJSON reads a small body.
func readJSON(r *http.Request, v any) error {
	err := json.NewDecoder(r.Body).Decode(v)
	if errors.As(err, new(*http.MaxBytesError)) {
		return err
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return badInput(fmt.Errorf("the request could not be read: %w", err))
	}
	return nil
}

type takeAnswer struct {
	ID string `json:"id"`
	take.Ack
}

func (b *Bench) beginTake(w http.ResponseWriter, r *http.Request) error {
	var head take.Head
	if err := readJSON(r, &head); err != nil {
		return err
	}
	card, err := b.book.Card(r.Context(), job.ID(head.Job))
	if err != nil {
		return err
	}
	if card.Status == job.StatusClosed {
		return wrong(http.StatusUnprocessableEntity, "job %d is closed: undo the closing first, or open a new job", card.ID)
	}
	if s, _ := guard.Of(r); head.Device == "" {
		head.Device = s.Name
	}
	if err := b.mayListen(card, head); err != nil {
		return err
	}
	head.Began = b.Now()
	t, err := b.takes.Begin(head)
	if err != nil {
		return badInput(err)
	}
	b.live.of(card.ID).attend(t, card)
	b.live.of(card.ID).say("take", map[string]any{"take": t.ID, "sensor": t.Sensor, "device": t.Device, "state": "began"})
	return writeJSON(w, http.StatusOK, takeAnswer{t.ID, t.Ack()})
}

// mayListen refuses a recording of a running engine before the hard stops are
// confirmed. A file was recorded elsewhere, and a practice engine hurts nobody.
func (b *Bench) mayListen(card *job.Card, head take.Head) error {
	if _, isFile := head.Flags["file"]; isFile || b.live.isPractice(card.ID) {
		return nil
	}
	return allTicked(head.Stops, b.listenStops(card))
}

// listenStops are the hard stops before a recording on this car.
func (b *Bench) listenStops(card *job.Card) []fault.Caution {
	check, err := b.Catalogue.Check("record")
	if err != nil {
		return nil
	}
	return stopsFor(card, check.Stops)
}

// attend gives a take its ear or feeler; a take that goes on after the server
// died gets a fresh one.
func (r *room) attend(t *take.Take, card *job.Card) (*ear, *feeler) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if t.Sensor == take.Motion {
		if r.feel[t.ID] == nil {
			r.feel[t.ID] = newFeeler(r, t.ID, card.Layout())
		}
		return nil, r.feel[t.ID]
	}
	if r.ears[t.ID] == nil {
		r.ears[t.ID] = newEar(r, t.ID, card.Layout(), t.RateHz)
	}
	return r.ears[t.ID], nil
}

// deafen ends the live view of a take.
func (r *room) deafen(id string) {
	r.mu.Lock()
	if e, ok := r.ears[id]; ok {
		e.close()
	}
	if f, ok := r.feel[id]; ok {
		f.close()
	}
	delete(r.ears, id)
	delete(r.feel, id)
	clear(r.now)
	r.mu.Unlock()
	r.forget("meter", "felt", "joined", "level", "motion")
}

func (b *Bench) takeOf(r *http.Request) (*take.Take, error) { return b.takes.Get(r.PathValue("take")) }

func (b *Bench) takeState(w http.ResponseWriter, r *http.Request) error {
	t, err := b.takeOf(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, takeAnswer{t.ID, t.Ack()})
}

// takeChunk takes one chunk, or several that follow each other: a phone that is
// behind catches up in few requests. The answer is that to the last one taken.
func (b *Bench) takeChunk(w http.ResponseWriter, r *http.Request) error {
	t, err := b.takeOf(r)
	if err != nil {
		return err
	}
	http.NewResponseController(w).SetReadDeadline(time.Now().Add(30 * time.Second))
	data, err := io.ReadAll(r.Body)
	if err != nil {
		return err
	}
	chunks, err := chunksOf(r.FormValue("seq"), r.FormValue("first"), r.FormValue("bytes"), data)
	if err != nil {
		return badInput(err)
	}
	var ack take.Ack
	for _, c := range chunks {
		if ack, err = b.keepChunk(r, t, c); err != nil {
			break
		}
	}
	var ahead *take.AheadError
	if errors.As(err, &ahead) {
		return writeJSON(w, http.StatusConflict, takeAnswer{t.ID, ack})
	}
	if err != nil {
		return badInput(err)
	}
	return writeJSON(w, http.StatusOK, takeAnswer{t.ID, ack})
}

const mostChunks = 100 // in one request

// chunksOf takes a body apart: seq is the number of the first chunk, first the
// first samples and bytes the lengths of all, by commas; a single chunk needs no
// length.
func chunksOf(seq, first, bytes string, data []byte) ([]take.Chunk, error) {
	n, err := strconv.ParseUint(seq, 10, 32)
	if err != nil {
		return nil, fmt.Errorf("a chunk needs its number, seq: %w", err)
	}
	firsts, lengths := strings.Split(first, ","), strings.Split(bytes, ",")
	if bytes == "" {
		lengths = []string{strconv.Itoa(len(data))}
	}
	if len(firsts) != len(lengths) || len(firsts) > mostChunks {
		return nil, fmt.Errorf("%d first samples and %d lengths: expected as many, at most %d", len(firsts), len(lengths), mostChunks)
	}
	var out []take.Chunk
	for i := range firsts {
		at, err1 := strconv.ParseUint(firsts[i], 10, 64)
		length, err2 := strconv.ParseUint(lengths[i], 10, 31)
		if err := errors.Join(err1, err2); err != nil {
			return nil, fmt.Errorf("chunk %d: %w", n, err)
		}
		if length > uint64(len(data)) {
			return nil, fmt.Errorf("chunk %d: %d bytes announced, %d came", n, length, len(data))
		}
		out = append(out, take.Chunk{Seq: uint32(n), First: at, Data: data[:length]})
		data = data[length:]
		n++
	}
	if len(data) > 0 {
		return nil, fmt.Errorf("%d bytes more came than were announced", len(data))
	}
	return out, nil
}

// keepChunk stores a chunk and lets the room hear it.
func (b *Bench) keepChunk(r *http.Request, t *take.Take, c take.Chunk) (take.Ack, error) {
	before := len(t.Ack().Gaps)
	ack, fresh, err := t.Append(c)
	if err != nil || !fresh {
		return ack, err
	}
	room := b.live.of(job.ID(t.Job))
	e, f, err := b.attending(r, room, t, c.First)
	switch {
	case err != nil: // kept all the same
	case f != nil:
		moves := take.Moves(c.Data)
		f.feel(moves, ack.Samples)
		room.say("motion", shakeOf(t.ID, moves, ack))
	default:
		x := take.Samples(c.Data)
		end := c.First + uint64(len(x))
		e.hear(x, end, len(ack.Gaps) > before)
		db, clipped := e.loud()
		room.say("level", level{Take: t.ID, Samples: end, Seconds: float64(end) / t.RateHz, DB: db, Clipped: clipped, Gaps: len(ack.Gaps), Next: ack.Next})
	}
	return ack, nil
}

// attending finds who hears or feels a take. After a restart of the bench the
// ear first hears the end of what was recorded before sample until.
func (b *Bench) attending(r *http.Request, room *room, t *take.Take, until uint64) (*ear, *feeler, error) {
	room.mu.Lock()
	e, f := room.ears[t.ID], room.feel[t.ID]
	room.mu.Unlock()
	if e != nil || f != nil {
		return e, f, nil
	}
	card, err := b.book.Card(r.Context(), job.ID(t.Job))
	if err != nil {
		return nil, nil, err
	}
	if e, f = room.attend(t, card); e != nil {
		err = e.catchUp(t, until)
	}
	return e, f, err
}

// shake is what a phone's motion sensor feels now.
type shake struct {
	Take    string  `json:"take"`
	Samples uint64  `json:"samples"`
	RMS     float64 `json:"rms"` // m/s², gravity and tilt removed
	Hz      float64 `json:"hz"`  // samples a second
}

func shakeOf(id string, moves []take.Move, ack take.Ack) shake {
	s := shake{Take: id, Samples: ack.Samples}
	if len(moves) < 2 {
		return s
	}
	var mean, square [3]float64
	for _, m := range moves {
		for i, v := range [3]float64{m.X, m.Y, m.Z} {
			mean[i] += v / float64(len(moves))
		}
	}
	for _, m := range moves {
		for i, v := range [3]float64{m.X, m.Y, m.Z} {
			square[i] += (v - mean[i]) * (v - mean[i]) / float64(len(moves))
		}
	}
	s.RMS = math.Sqrt(square[0] + square[1] + square[2])
	if span := moves[len(moves)-1].T - moves[0].T; span > 0 {
		s.Hz = float64(len(moves)-1) / span
	}
	return s
}
